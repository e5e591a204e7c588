"""Brokers that are there, dead or silent."""

from __future__ import annotations

import socket
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from shop.errands import services


@pytest.fixture
def broker(settings: Any) -> Iterator[Callable[[str], None]]:
    """Ring at this address for the rest of the test."""

    def at_address(url: str) -> None:
        settings.BROKER_URL = url
        services._bell.cache_clear()

    yield at_address
    services._bell.cache_clear()


@pytest.fixture
def silent_port() -> Iterator[int]:
    """A port where somebody listens and never answers."""
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        listening.listen()
        yield listening.getsockname()[1]
