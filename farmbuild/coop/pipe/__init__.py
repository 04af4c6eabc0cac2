"""Pipe that members lend and give each other."""
