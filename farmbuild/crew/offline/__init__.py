"""What a phone keeps by itself, to be read and filled in without reception."""
