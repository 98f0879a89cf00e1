"""The layers as a browser shows them: short when closed, opened by click, link, key, swipe, search and print."""

from __future__ import annotations

import pytest
from page_part import whole_page
from printed_text import page_texts

LAPTOP = {"width": 1366, "height": 768}


def open_units(page) -> list[str]:
    return page.locator("details.unit[open] h3").all_inner_texts()


@pytest.mark.parametrize(("name", "screens"), [("ordinary", 6), ("large", 10)])
def test_closed_it_is_a_few_screens_of_a_laptop(open_page, name: str, screens: int) -> None:
    page = open_page(name, **LAPTOP).page
    assert page.evaluate("document.documentElement.scrollHeight") <= screens * LAPTOP["height"]


def test_one_unit_is_open_at_a_time_and_arrows_go_on(open_page) -> None:
    page = open_page("ordinary", **LAPTOP).page
    names = page.locator("details.unit h3").all_inner_texts()
    page.locator("details.unit summary").nth(3).click()
    assert open_units(page) == [names[3]]
    page.keyboard.press("ArrowRight")
    page.wait_for_url("**#*")
    assert open_units(page) == [names[4]]
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("ArrowLeft")
    assert open_units(page) == [names[2]]
    page.locator("#narrow input").press("ArrowRight")
    assert open_units(page) == [names[2]], "a field keeps its own arrow keys"


def test_a_link_opens_its_section_without_a_script(open_page) -> None:
    page = open_page("ordinary", java_script_enabled=False).page
    page.locator(".trust a[href='#held-back']").click()
    assert page.locator("#held-back").is_visible()
    page.locator(".due .unit-link").first.click()
    assert page.locator("details.unit[open] article").is_visible()
    page.locator("details.unit[open] a[rel=next]").click()
    assert page.locator("details.unit[open]").count() == 1


def test_an_address_with_a_unit_opens_it(open_page, page_files) -> None:
    page = open_page("ordinary").page
    anchor = page.locator("article.unit").nth(5).get_attribute("id")
    page.goto("about:blank")
    page.goto(f"{page_files['ordinary'].as_uri()}#{anchor}")
    assert page.locator("details.unit[open] article").get_attribute("id") == anchor


def test_the_meaning_of_a_word_is_shown_at_a_press_without_a_script(open_page) -> None:
    page = open_page("ordinary", java_script_enabled=False).page
    assert not page.locator("#term-due").is_visible()
    page.locator("#due-title button").click()
    assert page.locator("#term-due").is_visible()


def test_what_is_folded_is_printed_and_a_unit_prints_alone(open_page) -> None:
    page = open_page("ordinary").page
    assert page.locator("details[open]").count() == 0
    whole = page_texts(page.pdf(prefer_css_page_size=True))
    text = "".join(whole)
    assert "Onedrainisonelookatone" in text
    assert text.count("Otherleg") > 8
    assert len(whole) <= 22, "sixteen units take about eight pages, their pictures beside their drains"
    page.evaluate(
        "() => { window.print = () => { document.querySelector('details.printed').dataset.was = 'printed'; }; }"
    )
    page.locator("details.unit summary").first.click()
    page.locator("details.unit[open] .print-unit").click()
    assert page.locator("details.unit[open]").get_attribute("data-was") == "printed"
    page.evaluate("document.body.classList.add('one-unit')")
    page.evaluate("document.querySelector('details.unit[open]').classList.add('printed')")
    alone = page_texts(page.pdf(prefer_css_page_size=True))
    assert len(alone) <= 2 < len(whole)


def test_a_thousand_units_open_and_filter_at_once(open_page, page_files, thousand_units) -> None:
    """Layout, style and script in seconds of the processor, so that a busy machine does not count."""
    path = page_files["large"].with_name("thousand.html")
    path.write_text(whole_page(thousand_units), encoding="utf-8")
    page = open_page("ordinary", **LAPTOP).page
    measured = page.context.new_cdp_session(page)
    measured.send("Performance.enable", {"timeDomain": "threadTicks"})

    def seconds() -> float:
        values = {item["name"]: item["value"] for item in measured.send("Performance.getMetrics")["metrics"]}
        return values["LayoutDuration"] + values["RecalcStyleDuration"] + values["ScriptDuration"]

    begin = seconds()
    page.goto(path.as_uri())
    opened = seconds()
    page.evaluate(
        """() => {
            const field = document.querySelector("#narrow input");
            field.value = "F07";
            field.dispatchEvent(new Event("input", { bubbles: true }));
            document.body.offsetHeight;
        }"""
    )
    filtered = seconds()
    assert "of 1000 units" in (page.locator("#narrow output").text_content() or "")
    assert page.evaluate("document.querySelectorAll('*').length") < 75_000, "what is read in takes the time to open"
    assert opened - begin < 0.2
    assert filtered - opened < 0.2
