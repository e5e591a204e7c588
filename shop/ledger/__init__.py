"""Rows that only grow, and the trail of what was changed by whom."""
