"""Passwords that the software makes up: words that can be read out across a shop floor."""

from __future__ import annotations

import secrets

WORDS = (
    "amber", "anvil", "birch", "brass", "cedar", "chalk", "cobalt", "copper", "ember", "felt", "flint", "granite",
    "hazel", "indigo", "juniper", "lantern", "linen", "maple", "marble", "oak", "ochre", "pebble", "pewter", "quartz",
    "saffron", "slate", "spruce", "tallow", "umber", "walnut", "willow", "zinc",
)  # fmt: skip


def made_up(words: int = 4) -> str:
    """Return so many words, joined; each adds five bits that nobody can guess."""
    return "-".join(secrets.choice(WORDS) for _ in range(words))
