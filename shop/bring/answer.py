"""What bringing a file answers."""

from __future__ import annotations

from dataclasses import dataclass, field

from shop.bring.sheet import Bad


@dataclass
class Brought:
    """What was found in a file and what was taken of it, in rows; `face_ids` are the faces it told news of."""

    kind: str
    taken: int = 0
    known: int = 0
    bad: list[Bad] = field(default_factory=list)
    face_ids: set[int] = field(default_factory=set)

    @property
    def refused(self) -> bool:
        """Return whether nothing was taken because of bad rows."""
        return bool(self.bad) and self.taken == 0
