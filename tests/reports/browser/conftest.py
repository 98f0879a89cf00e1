"""A real headless Chromium over pages written to disk, as a reader would open them."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from invented_report import FleetShape, build_report
from page_part import whole_page
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from draincurve.pipeline.plan_result import PlanResult

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"]


@dataclass
class Opened:
    """A page that is open, with everything it said and asked for."""

    page: Page
    said: list[str] = field(default_factory=list)
    asked_for: list[str] = field(default_factory=list)
    dialogs: list[str] = field(default_factory=list)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    if CHROMIUM is None:
        pytest.skip("Debian's package chromium is not installed, so no page can be opened")
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield started
        started.close()


@pytest.fixture(scope="session")
def page_files(race_page: str, hostile_page: str, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Pages on disk: an ordinary fleet, one with hostile ids, and one of 120 units on two sites."""
    folder = tmp_path_factory.mktemp("pages")
    large = whole_page(build_report(FleetShape(units=120, drains=900, sites=2)))
    paths = {}
    for name, page in (("ordinary", race_page), ("hostile", hostile_page), ("large", large)):
        paths[name] = folder / f"{name}.html"
        paths[name].write_text(page, encoding="utf-8")
    return paths


@pytest.fixture(scope="session")
def thousand_units() -> PlanResult:
    return build_report(FleetShape(units=1000, drains=8000, sites=4))


@pytest.fixture
def contexts(browser: Browser) -> Iterator[list[BrowserContext]]:
    opened: list[BrowserContext] = []
    yield opened
    for context in opened:
        context.close()


@pytest.fixture
def open_page(browser: Browser, contexts: list[BrowserContext], page_files: dict[str, Path]):
    """Open one of the pages: `open_page("ordinary", width=390)`."""

    def call(name: str, width: int = 1280, height: int = 900, **options) -> Opened:
        context = browser.new_context(viewport={"width": width, "height": height}, **options)
        contexts.append(context)
        opened = Opened(context.new_page())
        opened.page.on("console", lambda message: opened.said.append(message.text))
        opened.page.on("pageerror", lambda fault: opened.said.append(str(fault)))
        opened.page.on("request", lambda request: opened.asked_for.append(request.url))
        opened.page.on("dialog", lambda dialog: (opened.dialogs.append(dialog.message), dialog.dismiss()))
        opened.page.goto(page_files[name].as_uri())
        return opened

    return call
