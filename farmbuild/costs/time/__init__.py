"""Time of people in money."""
