"""A real browser: Debian's Chromium, driven by Playwright."""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Iterator
from typing import Any

import pytest

from tests import oracle

__all__ = ["open_page", "running_browser"]

_NAMES = ("chromium", "chromium-browser", "google-chrome")


@contextlib.contextmanager
def running_browser() -> Iterator[Any]:
    """Run a browser; skip without one, but fail in CI."""
    driver = oracle("playwright.sync_api")
    path = next((found for name in _NAMES if (found := shutil.which(name))), None)
    if path is None:
        if os.environ.get("PULSEBRIDGE_CI"):
            pytest.fail("CI has no chromium")
        pytest.skip("there is no chromium on this machine")
    with driver.sync_playwright() as playwright:
        # it may not run as root within its own sandbox, and CI's /dev/shm is small
        browser = playwright.chromium.launch(
            executable_path=path, args=["--no-sandbox", "--disable-dev-shm-usage", "--disable-gpu"]
        )
        yield browser
        browser.close()


@contextlib.contextmanager
def open_page(browser: Any, address: str, *, waits: bool = True, **options: Any) -> Iterator[Any]:
    """Open ``address`` in a browser of its own; nothing may go wrong in it.

    With ``waits`` the block begins when the page shows the show.
    """
    options = {"viewport": {"width": 390, "height": 844}, "color_scheme": "dark", **options}
    context = browser.new_context(**options)
    context.set_default_timeout(15_000)
    page = context.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    try:
        page.goto(address)
        if waits:
            page.wait_for_selector("body:not(.is-blank)")
        yield page
        assert not faults, faults
    finally:
        context.close()
