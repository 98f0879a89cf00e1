"""The page for readers of every kind: judged by axe-core, in light and dark, on a phone and a desk."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe

GRAVE = ("serious", "critical")


def violations(page) -> list[str]:
    found = Axe().run(page).response["violations"]
    return [
        f"{item['impact']}: {item['id']}: {item['nodes'][0]['html'][:160]}"
        for item in found
        if item["impact"] in GRAVE
    ]


@pytest.mark.parametrize(
    ("name", "width", "scheme"),
    [("ordinary", 390, "light"), ("ordinary", 1280, "dark"), ("hostile", 390, "dark"), ("hostile", 1280, "light")],
)
def test_no_serious_barrier(open_page, name: str, width: int, scheme: str) -> None:
    """Every two of page, width and scheme together, with all that is folded open.

    Source of the rules: W3C, Web Content Accessibility Guidelines 2.1, as axe-core checks them.
    """
    page = open_page(name, width=width, color_scheme=scheme, bypass_csp=True).page
    page.evaluate(
        "for (const part of document.querySelectorAll('details')) { part.removeAttribute('name'); part.open = true; }"
    )
    assert violations(page) == []


def test_dark_and_light_follow_the_reader(open_page) -> None:
    def brightness(scheme: str) -> float:
        page = open_page("ordinary", color_scheme=scheme).page
        colour = page.evaluate("getComputedStyle(document.body).backgroundColor")
        return sum(float(part) for part in colour.removeprefix("rgb(").rstrip(")").split(",")) / 765.0

    assert brightness("light") > 0.9
    assert brightness("dark") < 0.25


def test_the_first_stop_of_the_keyboard_is_the_way_to_the_answer(open_page) -> None:
    page = open_page("ordinary").page
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the answer"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "answer"


def test_every_picture_has_a_name_and_a_description(open_page) -> None:
    page = open_page("ordinary").page
    bare = page.evaluate(
        """() => [...document.querySelectorAll("svg[role=img]")].filter((svg) => svg.getAttribute("aria-labelledby")
            .split(" ").some((id) => !document.getElementById(id)?.textContent.trim())).length"""
    )
    assert page.locator("svg[role=img]").count() > 15
    assert bare == 0


def test_meaning_does_not_rest_on_colour(open_page) -> None:
    """Printed in grey, late and faster units still differ from the others by a sign and by words."""
    page = open_page("ordinary").page
    late = page.locator(".due li.late .what").first
    assert late.inner_text().strip().startswith("due now")
    assert "▲" in page.evaluate("getComputedStyle(document.querySelector('.due li.late strong'), '::before').content")
    assert page.locator(".units-table .standing.faster").first.inner_text().startswith("faster than the fleet")


def test_a_unit_and_its_evidence_open_by_keys_alone(open_page) -> None:
    page = open_page("ordinary").page
    link = page.locator(".due .unit-link").first
    link.focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**#*")
    assert page.evaluate("document.activeElement.closest('details.unit[open]') !== null")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.closest('details.unit[open]') !== null"), "and on into the section"
    page.locator("details.fold > summary").first.focus()
    page.keyboard.press("Enter")
    assert page.locator("details.fold").first.get_attribute("open") is not None
