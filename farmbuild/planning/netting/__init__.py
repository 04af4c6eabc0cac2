"""What is wanted against what is on hand and on offer, by need date."""
