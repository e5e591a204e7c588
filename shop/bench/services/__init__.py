"""The only writers of the bench room, by verb: proposing, planning, working, passing; `moving` writes the state."""
