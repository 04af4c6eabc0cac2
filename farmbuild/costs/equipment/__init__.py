"""Benders and other things by the day."""
