"""What a house is quoted at, where its cost went another way, and how far a job is earned."""
