"""Debian's Chromium, and a service for the page."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.api.running import Running

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

FAULTS = "tests.api.faults:perform"


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    from playwright.sync_api import sync_playwright

    from tests.page.browsing import CHROMIUM

    if CHROMIUM is None:
        reason = "Chromium is not installed (Debian: apt-get install chromium)"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    with sync_playwright() as playwright:
        args = ["--no-sandbox"] if os.geteuid() == 0 else []
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=args)
        yield started
        started.close()


@pytest.fixture(scope="session")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """Return one service for all tests that leave it as it is."""
    folder = tmp_path_factory.mktemp("page")
    running = Running(f"sqlite:///{folder / 'ringset.db'}", FAULTS).ready()
    yield running
    assert running.stop() == 0
    running.log.unlink(missing_ok=True)


@pytest.fixture
def own_service(tmp_path: Path) -> Iterator[Callable[..., Running]]:
    """Start services of a test's own one after another, all on one port."""
    started: list[Running] = []

    def start(store: str = "ringset.db", **settings: Any) -> Running:
        url = f"sqlite:///{tmp_path / store}"
        port: dict[str, Any] = {"port": started[0].port} if started else {}
        started.append(Running(url, FAULTS, **port, **settings).ready())
        return started[-1]

    yield start
    for running in started:
        if running.process.poll() is None:
            running.kill()
        running.log.unlink(missing_ok=True)


@pytest.fixture
def open_page(browser: Browser, service: Running) -> Iterator[Callable[..., Page]]:
    """Open pages that are closed, and looked at for faults, after the test."""
    from tests.page.browsing import opened

    with ExitStack() as stack:

        def open_one(**options: Any) -> Page:
            return stack.enter_context(opened(browser, options.pop("home", service.url), **options))

        yield open_one
