import re

import pytest
from matplotlib.figure import Figure
from page_part import page_part

from draincurve.pipeline.judging.springs.spring_comparison import SpringComparison, SpringPair
from draincurve.pipeline.judging.springs.spring_verdicts import CANNOT_TELL, NO_DIFFERENCE, SHEDS_LESS, SHEDS_MORE
from draincurve.reports.content.fleet_interval_rows import FleetIntervalRow
from draincurve.reports.content.sections.spring_sections import inseparable_springs, spring_sections
from draincurve.reports.content.wording import UNKNOWN


def pair(name, verdict, multiplier, p_value=0.2):
    return SpringPair(
        spring_type=name,
        compared_with="Plain <46>",
        hours_multiplier=multiplier,
        low=multiplier and multiplier * 0.9,
        high=multiplier and multiplier * 1.1,
        p_value=p_value,
        p_adjusted=p_value,
        p_permutation=p_value,
        verdict=verdict,
        drains=40,
        units=6,
        shared_riders=1,
        shared_oils=2,
        drains_needed=30 if verdict == CANNOT_TELL and p_value else None,
        reason=f"{name}: because & so on.",
    )


PAIRS = (
    pair("Stepped", SHEDS_MORE, 0.5, 0.0002),
    pair("Long", SHEDS_LESS, 2.0, 0.01),
    pair("Coated", NO_DIFFERENCE, 1.0),
    pair("Wide", CANNOT_TELL, 1.2),
    pair("Lone", CANNOT_TELL, None, None),
)


INTERVALS = (
    FleetIntervalRow("Plain <46>", "Fork 5", "11.0", "8.1 to 17.9", "debris", 20, 4),
    FleetIntervalRow("Stepped", "", "9.0", "", "debris", 12, 3),
)


@pytest.fixture
def sections():
    full = SpringComparison(
        "debris", PAIRS, ("Lone was ridden by <b>Jost</b> only.",), ("Coil: not compared.",), None, ("rider", "site")
    )
    empty = SpringComparison("colour", (), (), (), "every drain was on Plain")
    return spring_sections(Figure(), [full, empty])


def test_the_picture_draws_and_labels_the_band(sections):
    svg = str(sections[0].picture.svg)
    assert "no practical difference: 0.87 to 1.15x" in svg
    assert "Stepped" in svg
    assert "sheds more" in svg
    assert "Plain &lt;46&gt;" in svg
    assert "nan" not in svg.lower()


def test_a_channel_without_a_pair_has_a_sentence_and_no_picture(sections):
    assert sections[1].picture is None
    assert sections[1].why_none == "Every drain was on Plain."


def test_rows_are_in_words(sections):
    first, *_, last = sections[0].rows
    assert first.p_values == "test under 0.001; over all tests under 0.001; over units under 0.001"
    assert first.shared == "1 rider, 2 oils"
    assert first.drains_needed == ""
    assert last.p_values == "no test possible"
    assert last.multiplier == UNKNOWN


def test_a_spring_that_is_never_seen_apart_has_no_number_anywhere(sections):
    assert "not separable in this log" in str(sections[0].picture.svg)
    comparison = SpringComparison("debris", PAIRS, (), (), None)
    assert inseparable_springs([comparison], "debris") == {"Lone"}
    assert inseparable_springs([comparison], "colour") == frozenset()


def test_the_section_is_escaped_and_the_same_every_time(sections):
    text = page_part("springs", springs=sections, fleet_intervals=INTERVALS)
    assert text == page_part("springs", springs=sections, fleet_intervals=INTERVALS)
    assert "<b>Jost</b>" not in text
    assert "Plain &lt;46&gt;" in text
    assert "Lone was ridden by &lt;b&gt;Jost" in text
    assert "Every drain was on Plain." in text
    assert "springs store energy" in text


def test_only_what_is_in_the_fit_is_named_as_adjusted_for(sections):
    text = page_part("springs", springs=sections, fleet_intervals=INTERVALS)
    assert text.count("Each pair is adjusted for") == 1
    assert "Each pair is adjusted for unit, rider and site." in text


def test_the_fleets_intervals_are_named_beside_the_multipliers(sections):
    text = " ".join(page_part("springs", springs=sections, fleet_intervals=INTERVALS).split())
    assert "by spring and oil: Plain &lt;46&gt;, Fork 5 11.0 h (8.1 to 17.9); Stepped, none 9.0 h." in re.sub(
        "<.*?>", "", text
    )


def test_no_fit_at_all_is_said():
    assert "springs cannot be compared" in page_part("springs", springs=())
