"""Tags of crew pages."""
