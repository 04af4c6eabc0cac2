"""Which offers to take, and why."""
