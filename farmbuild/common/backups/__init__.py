"""A copy of the whole database while people work on, and back from it, compared row by row."""
