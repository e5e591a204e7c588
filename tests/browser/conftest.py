"""Chromium for tests that look at the product as people do.

Playwright's synchronous interface runs an event loop in this thread, in which Django's ORM refuses to work: make the
data in fixtures that come before `browser` (list them first), and look only at pages afterwards.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from shop.site import preflight

ARGUMENTS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
SIZES = {"desktop": (1440, 900), "tablet": (1280, 800), "phone": (390, 844)}


@pytest.fixture
def browser(live_server: object) -> Iterator[Browser]:
    """The system's Chromium, ended before the database is emptied."""
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=preflight.chromium(), args=ARGUMENTS)
        yield chromium
        chromium.close()


@pytest.fixture
def window(browser: Browser, live_server: object) -> Iterator[Callable[..., Page]]:
    """Open a window of somebody's own: another tablet, another sign-in."""
    opened: list[BrowserContext] = []

    def make(size: str = "tablet", *, scripts: bool = True, dark: bool = False) -> Page:
        width, height = SIZES[size]
        context = browser.new_context(
            base_url=str(live_server),
            viewport={"width": width, "height": height},
            java_script_enabled=scripts,
            color_scheme="dark" if dark else "light",
            service_workers="block",
        )
        context.set_default_timeout(10_000)
        opened.append(context)
        return context.new_page()

    yield make
    for context in opened:
        context.close()
