"""Chromium for the tests that open a page as its reader does.

Where the browser or its driver is missing a test is skipped, except in CI, where it fails: a check that nobody runs is
no check.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

__all__ = ["Watched", "accessibility", "missing", "open_browser", "watched_page"]

ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


class Watched:
    """A page, what it asked for, and what went wrong in its scripts."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.requests: list[str] = []
        self.errors: list[str] = []
        page.on("request", lambda request: self.requests.append(request.url))
        page.on("pageerror", lambda error: self.errors.append(str(error)))
        page.on("console", lambda message: self.errors.append(message.text) if message.type == "error" else None)


def missing(what: str) -> None:
    """Skip for want of a tool; fail in CI."""
    if os.environ.get("CI") == "true":
        pytest.fail(f"{what} is missing, and CI must have it")
    pytest.skip(f"{what} is not installed")


def accessibility() -> Any:
    """Return what runs axe-core on a page."""
    try:
        from axe_playwright_python.sync_playwright import Axe  # noqa: PLC0415 - an extra that not everybody installs
    except ModuleNotFoundError:
        missing("axe-playwright-python")
    return Axe()


@contextmanager
def open_browser() -> Iterator[Any]:
    """Run a headless Chromium."""
    program = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if program is None:
        missing("chromium")
    try:
        from playwright.sync_api import sync_playwright  # noqa: PLC0415 - an extra that not everybody installs
    except ModuleNotFoundError:
        missing("playwright")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=ARGUMENTS)
        yield browser
        browser.close()


@contextmanager
def watched_page(browser: Any, file: Path, width: int, height: int) -> Iterator[Watched]:
    """Open a file in a window of its own, with a store of its own, and watch it."""
    context = browser.new_context(viewport={"width": width, "height": height}, accept_downloads=True)
    watched = Watched(context.new_page())
    watched.page.goto(file.as_uri())
    yield watched
    context.close()
