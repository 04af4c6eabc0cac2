"""Cost against quote: what a job cost, why it went another way, what is earned, and what is learned of it."""
