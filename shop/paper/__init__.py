"""Documents that were issued once and are kept as they were, stored files, QR codes."""
