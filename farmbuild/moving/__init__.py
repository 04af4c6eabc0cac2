"""An organisation with all that it owns goes out of one server and comes into another."""
