"""Work of a crew and day as strokes along the hours: one a piece, heavy when done."""
