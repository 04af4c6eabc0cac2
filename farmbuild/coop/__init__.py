"""The work of a cooperative: members and their farms, orders together, pipe between members, charges, statements."""
