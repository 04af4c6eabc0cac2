"""Hours of people: what was recorded, corrected and approved, and work that no step foresaw."""
