"""The schedule of all crews: worked out, published, and shown by the week."""
