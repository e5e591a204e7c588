"""The writers of the tooling room, one module a subject."""
