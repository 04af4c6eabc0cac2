"""The work of a house: counted, ordered, and in hours."""
