"""The page as a browser shows it: quiet, offline, sortable, searchable, and whole on paper."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from invented_report import HOSTILE
from PIL import Image
from playwright.sync_api import Browser, expect
from printed_text import copied_pages
from pypdf import PdfReader
from readme_picture import PICTURE_WIDTH, picture_of

PAGES = ("ordinary", "hostile", "large")
WIDTHS = (320, 390, 768, 1280, 1920)
A4_CONTENT_PX = {"portrait": round((210 - 26) / 25.4 * 96), "landscape": round((297 - 26) / 25.4 * 96)}


def column(page, heading: str) -> list[str]:
    """Texts of one column of the table of units, as shown, top to bottom."""
    return page.evaluate(
        """(heading) => {
            const table = document.querySelector(".units-table");
            const headers = [...table.tHead.rows[0].cells];
            const place = headers.findIndex((cell) => cell.textContent.trim() === heading);
            return [...table.tBodies[0].rows].filter((row) => !row.hidden)
                .map((row) => row.cells[place].firstChild.textContent.trim());
        }""",
        heading,
    )


def shown_units(page) -> list[str]:
    return column(page, "Unit")


@pytest.mark.parametrize("name", PAGES)
def test_opens_without_a_complaint_and_without_a_request(open_page, name: str) -> None:
    opened = open_page(name)
    opened.page.locator("body").press("End")
    opened.page.wait_for_timeout(50)
    assert opened.said == []
    assert [url for url in opened.asked_for if not url.startswith(("file:", "data:"))] == []
    assert len([url for url in opened.asked_for if url.startswith("file:")]) == 1
    assert opened.dialogs == []


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", ["ordinary", "hostile"])
def test_no_width_scrolls_sideways(open_page, name: str, width: int) -> None:
    page = open_page(name, width=width).page
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("hostile", HOSTILE)
def test_hostile_ids_are_text(open_page, hostile: str) -> None:
    opened = open_page("hostile")
    assert hostile in shown_units(opened.page)
    assert opened.page.locator("details.unit h3", has_text=hostile).count() >= 1
    assert opened.page.locator("img, article.unit script, table script").count() == 0
    assert opened.dialogs == []


def test_numbers_sort_as_numbers_and_what_is_not_known_stays_last(open_page) -> None:
    page = open_page("ordinary").page
    for expected_reverse in (False, True):
        page.locator("#all-units").get_by_role("button", name="Left, h").click()
        texts = column(page, "Left, h")
        known = [float(text) for text in texts if text != "not known"]
        assert len(known) > 10
        assert known == sorted(known, reverse=expected_reverse)
        assert texts[len(known) :] == ["not known"] * (len(texts) - len(known))
        sorted_by = page.locator(".units-table th[aria-sort]")
        assert sorted_by.count() == 1
        assert sorted_by.get_attribute("aria-sort") == ("descending" if expected_reverse else "ascending")


def test_the_keyboard_sorts_too(open_page) -> None:
    page = open_page("ordinary").page
    before = shown_units(page)
    page.locator("#all-units").get_by_role("button", name="Interval, h").focus()
    page.keyboard.press("Enter")
    intervals = [float(text) for text in column(page, "Interval, h")]
    assert intervals == sorted(intervals)
    assert sorted(shown_units(page)) == sorted(before)


def test_the_table_narrows_by_choice_and_by_text_and_shows_all_again(open_page) -> None:
    page = open_page("large").page
    form = page.locator("#narrow")
    everything = shown_units(page)
    assert form.locator("output").inner_text() == "all 120 units"
    form.locator("select[name=Standing]").select_option("faster than the fleet")
    faster = shown_units(page)
    assert 0 < len(faster) < 120
    assert set(column(page, "Standing")) == {"faster than the fleet"}
    assert form.locator("output").inner_text() == f"{len(faster)} of 120 units"
    form.locator("button[type=reset]").click()
    expect(form.locator("output")).to_have_text("all 120 units")
    assert shown_units(page) == everything
    form.locator("input").fill("f07")
    assert shown_units(page) == ["F07"]
    form.locator("input").fill("no such unit")
    assert shown_units(page) == []


@pytest.mark.parametrize("choice", ["Site", "Machine", "Spring", "Standing", "Set by"])
def test_every_choice_shows_rows_of_that_value_only(open_page, choice: str) -> None:
    page = open_page("large").page
    select = page.locator(f"#narrow select[name='{choice}']")
    value = select.locator("option").nth(1).get_attribute("value")
    select.select_option(value)
    assert set(column(page, choice)) == {value}


def test_rows_held_back_can_be_searched(open_page) -> None:
    page = open_page("ordinary").page
    page.locator("#held-back-title").click()
    page.locator("#find-held-back input").fill("grey")
    assert page.locator("#held-back table[data-sortable=find-held-back] tbody tr:visible").count() == 1
    assert page.locator("#find-held-back output").inner_text() == "1 of 6 rows"


def test_every_link_leads_somewhere_on_the_page(open_page) -> None:
    page = open_page("ordinary").page
    dead = page.evaluate(
        """() => [...document.querySelectorAll("a[href]")].map((link) => link.getAttribute("href"))
            .filter((href) => !href.startsWith("#") || !document.getElementById(href.slice(1)))"""
    )
    assert dead == []


def test_a_unit_on_the_first_screen_leads_to_its_section(open_page) -> None:
    page = open_page("ordinary").page
    link = page.locator(".due .unit-link").first
    name = link.inner_text()
    link.click()
    section = page.locator("details.unit[open]")
    assert section.locator("h3").inner_text() == name
    assert -5 <= section.bounding_box()["y"] <= 300


@pytest.mark.parametrize("width", [1366, 2560])
def test_a_units_drains_fill_the_room_beside_its_pictures(open_page, width: int) -> None:
    page = open_page("ordinary", width=width).page
    page.locator("details.unit:has(.unit-pictures) summary").first.click()
    shown = page.locator("details.unit[open]")
    picture, table = (shown.locator(part).bounding_box() for part in (".unit-pictures", "table.drains"))
    box = shown.locator(".table-box").bounding_box()
    assert table["x"] > picture["x"] + picture["width"]
    assert table["width"] >= min(box["width"], 960) - 1
    assert box["width"] > 700
    assert shown.locator(".unit-body p").last.bounding_box()["x"] == box["x"], "words go on below the table"


def test_it_reads_the_same_without_scripts(open_page) -> None:
    page = open_page("ordinary", java_script_enabled=False).page
    assert page.locator(".units-table tbody tr").count() == 16
    assert page.locator("#narrow").is_hidden()


@pytest.mark.parametrize("name", ["ordinary", "hostile"])
def test_no_table_is_cut_on_paper(open_page, name: str) -> None:
    """Portrait sections within the width of A4 less its margins, the table of units within landscape."""
    page = open_page(name, width=A4_CONTENT_PX["portrait"]).page
    page.emulate_media(media="print")
    cut = """(width) => [...document.querySelectorAll(`${width[1]} table, ${width[1]} figure`)]
        .filter((part) => part.getBoundingClientRect().right > width[0] + 1)
        .map((part) => part.closest("section[id], article[id]").id)"""
    assert page.evaluate(cut, [A4_CONTENT_PX["portrait"], "main > section:not(.broad)"]) == []
    page.set_viewport_size({"width": A4_CONTENT_PX["landscape"], "height": 700})
    assert page.evaluate(cut, [A4_CONTENT_PX["landscape"], "main > section.broad"]) == []


def test_the_printed_page_names_every_unit_and_counts_its_pages(open_page) -> None:
    page = open_page("ordinary").page
    printed = page.pdf(prefer_css_page_size=True)
    texts = copied_pages(printed)
    text = "\n".join(texts)
    assert all(f"F{number:02d}" in text for number in range(1, 17))
    assert f"1 / {len(texts)}" in texts[0]
    assert {round(float(sheet.mediabox.width)) for sheet in PdfReader(io.BytesIO(printed)).pages} <= {595, 842}


def test_the_picture_for_the_readme_shows_the_first_screen_and_the_work_list(
    browser: Browser, page_files: dict[str, Path]
) -> None:
    picture = picture_of(browser, page_files["ordinary"])
    assert picture == picture_of(browser, page_files["ordinary"])
    shown = Image.open(io.BytesIO(picture))
    assert shown.width == PICTURE_WIDTH
    assert 400 < shown.height < 2000
    right = shown.convert("L").crop((PICTURE_WIDTH // 2, shown.height // 4, PICTURE_WIDTH, shown.height))
    assert min(right.tobytes()) < 100, "the work list is beside the first screen"
