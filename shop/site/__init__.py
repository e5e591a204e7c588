"""The building itself: settings, addresses, background tasks, commands."""
