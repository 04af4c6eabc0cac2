"""What a house, and all of them, cost."""
