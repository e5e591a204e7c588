"""What the trade has published: scales, measuring conditions, decision rules, abrasives, steels."""
