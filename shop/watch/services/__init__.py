"""The writers of the watch room, by what they write."""
