"""Presses, runs, the shot ledger, what is worked out from it, and damage called from the press."""
