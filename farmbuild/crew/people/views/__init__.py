"""Pages of people and crews, and of when they work."""
