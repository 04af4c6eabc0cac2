"""A whole season in one plan, and how it is stored and compared."""
