"""What a customer accepted, read back from what is frozen; bills and costs are held against it."""
