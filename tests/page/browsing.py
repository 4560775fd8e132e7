"""A browser on the page: what every test of it watches, and the few moves they share."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from playwright.sync_api import Browser, ConsoleMessage, Locator, Page, Request, expect

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
#: What the browser says by itself: of a study that is refused, and of a service that is away.
EXPECTED = ("status of 422",)
AWAY = ("net::ERR_", "status of 503", "status of 404")
ANSWER_MS = 150_000


class Faults:
    """What must not happen on any page: faults of its code, messages of the policy, foreign addresses."""

    def __init__(self, page: Page, home: str, expected: tuple[str, ...]) -> None:
        self.home, self.expected, self.found = home, (*EXPECTED, *expected), list[str]()
        page.on("pageerror", lambda error: self.found.append(f"{error}"))
        page.on("console", self._said)
        page.on("request", self._asked)
        page.on("dialog", lambda dialog: self.found.append(f"dialog {dialog.message}"))

    def _said(self, message: ConsoleMessage) -> None:
        if message.type in ("error", "warning") and not any(
            words in message.text for words in self.expected
        ):
            self.found.append(message.text)

    def _asked(self, request: Request) -> None:
        if not request.url.startswith((self.home, f"blob:{self.home}")):
            self.found.append(f"foreign address {request.url}")


@contextmanager
def opened(
    browser: Browser, home: str, expected: tuple[str, ...] = (), **options: Any
) -> Iterator[Page]:
    """Open the page in a browser of its own and wait until it is ready; fails on faults."""
    given = {"viewport": {"width": 1280, "height": 900}, "locale": "en-GB", **options}
    context = browser.new_context(**given)
    try:
        context.set_default_timeout(ANSWER_MS)
        page = context.new_page()
        faults = Faults(page, home, expected)
        page.goto(home)
        expect(page.locator("html[data-ready]")).to_be_attached()
        yield page
        assert not faults.found, faults.found
    finally:
        context.close()


def scenario(page: Page, name: str, state: str = "proven") -> None:
    """Start from a scenario and wait for its answer."""
    page.select_option("#scenario", name)
    answered(page, state)


def arm_with_three_points(page: Page) -> None:
    """Start from the six-joint arm with a wider tool point, whose front has 4, 5 and 6 ring parts."""
    scenario(page, "six_joint_arm")
    wider = study_of(page)
    wider["robots"][0]["tool_point_target_um"] = 240
    take(page, wider)
    answered(page)


def answered(page: Page, state: str = "proven") -> None:
    """Wait until the study that stands on the page has an answer of this status."""
    expect(page.locator("#verdict-work")).to_contain_text("Answered in", timeout=ANSWER_MS)
    expect(page.locator(f'#verdict[data-state="{state}"]')).to_be_attached(timeout=ANSWER_MS)


def cell(page: Page, joint: int, field: str, robot: int = 0) -> Locator:
    """Return the input of a joint's field."""
    return page.locator(f'[data-pointer="/robots/{robot}/joints/{joint}/{field}"]')


def study_of(page: Page) -> dict[str, Any]:
    """Return the study that stands on the page."""
    found: dict[str, Any] = json.loads(page.locator("#whole").input_value())
    return found


def take(page: Page, study: dict[str, Any]) -> None:
    """Give the page a whole study through its JSON editor."""
    page.evaluate("document.getElementById('whole').closest('details').open = true")
    page.fill("#whole", json.dumps(study))
    page.click("#take-whole")
