"""Trips to sites."""
