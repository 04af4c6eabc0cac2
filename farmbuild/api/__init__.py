"""Other programs: let in by tokens, answered in JSON by the services and selectors that the pages use."""
