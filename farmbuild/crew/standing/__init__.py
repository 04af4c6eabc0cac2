"""How far houses stand by what is recorded, what keeps each waiting, and the next step of the whole season."""
