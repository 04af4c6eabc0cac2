"""Pieces in the common yard that are a member's own: whose they are, and leave to take them."""
