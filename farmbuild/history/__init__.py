"""What changed: who changed what of a record from what to what, and when."""
