"""What went wrong on site: photos of it, the list over all houses, and how it was put right."""
