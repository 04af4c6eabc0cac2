"""The chance that each house of a plan has its materials by its day."""
