"""How a surface is made: grain ladders, routes, steel taken, minutes, and the lightest work that would do."""
