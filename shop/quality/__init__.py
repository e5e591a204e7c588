"""Gauges and their calibrations, inspection plans, inspections, readings and verdicts."""
