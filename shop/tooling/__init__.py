"""Tools and what is in them: positions, inserts, faces, spots, finish specs, plaques, lives, steel left."""
