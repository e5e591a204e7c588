"""The writers of the press room, one module a subject."""
