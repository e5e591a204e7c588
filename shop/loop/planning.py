"""News of what is planned and of what people have told the watch: questions answered, runs planned, rules set."""

from __future__ import annotations
