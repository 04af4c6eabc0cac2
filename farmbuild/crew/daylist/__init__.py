"""What one person does on a day, and what was done, also without reception."""
