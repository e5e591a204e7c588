"""The plant and the people in it: who they are, what they may do, in which language and units they read."""
