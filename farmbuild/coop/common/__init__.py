"""Stock of the cooperative that is open to its members."""
