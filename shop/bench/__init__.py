"""Work orders: one visit of one tool, its lines, steps, bookings, checks and release."""
