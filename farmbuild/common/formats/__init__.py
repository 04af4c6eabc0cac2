"""How Django itself writes and reads numbers and days, where a language of ours would have it another way."""
