"""What a house is, whether it can be built, and what it takes."""
