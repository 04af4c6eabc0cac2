"""All that can be looked at on a server without changing anything."""
