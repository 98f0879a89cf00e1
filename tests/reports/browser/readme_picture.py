"""Writes the README's picture: first screen and work list of a report as Chromium shows them on a wide screen.

Run by `make picture`, with the address of report.html and of the picture.
"""

from __future__ import annotations

import io
import shutil
import sys
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, sync_playwright

SCREEN_WIDTH = 1920
PICTURE_WIDTH = 1280
COLOURS = 96


def picture_of(browser: Browser, report: Path) -> bytes:
    """The picture as PNG."""
    context = browser.new_context(
        viewport={"width": SCREEN_WIDTH, "height": 1080}, device_scale_factor=PICTURE_WIDTH / SCREEN_WIDTH
    )
    page = context.new_page()
    page.goto(report.resolve().as_uri())
    ends = page.evaluate("['answer', 'work'].map((id) => document.getElementById(id).getBoundingClientRect().bottom)")
    clip = {"x": 0, "y": 0, "width": SCREEN_WIDTH, "height": max(ends)}
    shot = page.screenshot(full_page=True, clip=clip)
    context.close()
    small = io.BytesIO()
    Image.open(io.BytesIO(shot)).convert("RGB").quantize(COLOURS).save(small, "PNG", optimize=True)
    return small.getvalue()


def main(report: str, picture: str) -> None:
    """Write one picture."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
        Path(picture).write_bytes(picture_of(browser, Path(report)))
        browser.close()


if __name__ == "__main__":
    main(*sys.argv[1:])
