"""A note on wind for film and ladder work: limits and forecasts as typed; a warning, never a clearance."""
