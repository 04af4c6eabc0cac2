"""The parts of a house, one module each."""
