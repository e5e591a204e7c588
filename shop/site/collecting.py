"""Memory while a file is taken."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def collecting_rarely() -> Iterator[None]:
    """Look for garbage seldom: a file's rows are all kept to its end, and looking through them costs a sixth of it."""
    before = gc.get_threshold()
    gc.set_threshold(200_000, 50, 100)
    try:
        yield
    finally:
        gc.set_threshold(*before)
