"""The writers of the quality room, by what they write."""
