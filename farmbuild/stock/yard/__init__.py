"""What lies in a yard, written as lines of text, and put into stock in one go."""
