"""Piles as they are seen from their ends: a circle a stick, a bar an offcut's length, and nothing left out."""
