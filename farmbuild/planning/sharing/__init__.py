"""Benders among those who ask for them."""
