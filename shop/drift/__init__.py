"""The mathematics of wear: a line through readings, and when it reaches a limit."""
