"""Sighting the ridge of a set house by numbers."""
