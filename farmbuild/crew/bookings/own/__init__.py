"""What a member sees who signs in: its own requests and bookings, and when benders are free. Nobody else is named."""
