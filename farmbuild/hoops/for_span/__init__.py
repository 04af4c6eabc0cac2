"""Which of the own benders and of the sticks on offer make a hoop for a span."""
