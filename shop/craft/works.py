"""The works that can be done to a face, lightest first, by the names they are kept under."""

CLEAN = "clean"
GLOSS_BLAST = "gloss blast"
KISS = "kiss polish"
LOCAL = "local touch-up"
FULL = "full refinish"
RECUT = "re-cut"
LIGHTEST_FIRST = (CLEAN, GLOSS_BLAST, KISS, LOCAL, FULL, RECUT)
