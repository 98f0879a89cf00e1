"""What the page says about legs, volumes, oils and the weeks ahead: words, pictures, escaping, nothing to say."""

from datetime import date, timedelta

import polars as pl
import pytest
from matplotlib.figure import Figure
from page_part import page_part

from draincurve.pipeline.deciding.forecast import ForecastResult
from draincurve.pipeline.describing.leg_pairs import TOO_FEW, LegPair
from draincurve.pipeline.describing.oil_catalogue import OilResult, oil_catalogue
from draincurve.pipeline.judging.legs.leg_comparison import BY_FUNCTION, DIFFERS, LIKE_OTHER_PAIRS, LegResult
from draincurve.pipeline.judging.legs.leg_swaps import PossibleSwap
from draincurve.pipeline.judging.volume.unit_balance import VERDICTS_SCHEMA, UnitBalance, VolumeResult
from draincurve.pipeline.judging.volume.volume_sentences import CANNOT_TELL, LOSES, STEP, USUAL
from draincurve.reports.content.sections.forecast_section import forecast_section
from draincurve.reports.content.sections.legs_section import legs_section
from draincurve.reports.content.sections.oils_section import oils_section
from draincurve.reports.content.sections.volume_section import MOST_ROWS, volume_section
from draincurve.reports.content.unit_names import anchor
from draincurve.reports.tables.text_tables import oil_lines
from draincurve.schemas.forecast_table import checked_forecast, empty_forecast

AS_OF = date(2026, 6, 20)
HOSTILE = "<b>F&02</b>"


def html(name, section):
    return page_part(name, **{name: section})


def pair(verdict, left=HOSTILE, right="F03", **more):
    facts = {"channel": "debris", "hours_ratio": 0.55, "low": 0.4, "high": 0.72, "usual_ratio": 1.2, "drains_left": 9}
    return LegPair("bike 1", left, right, verdict=verdict, drains_right=8, **(facts | more))


SWAP = PossibleSwap("bike 2", "F05", "F06", date(2026, 3, 4), True, 5000.0, False)


def test_a_leg_that_differs_is_named_with_what_pairs_usually_do():
    result = LegResult(
        {}, (pair(LIKE_OTHER_PAIRS, "F07", "F08"), pair(DIFFERS, named=HOSTILE)), (SWAP,), ("bike 9 has two.",)
    )
    section = legs_section(result, in_service={HOSTILE}, as_of=AS_OF)
    (row,) = section.rows
    assert (row.urgent, row.left_anchor, row.right_anchor) == (True, anchor(HOSTILE), "")
    assert row.ratio == "0.55x (0.4 to 0.72)"
    assert "by debris over 9 and 8 drains, where one pair in ten differs by more than 1.20x" in row.why
    assert section.swaps == (
        "F05 and F06 (bike 2): were all entries from 4 Mar on swapped? "
        "Their ratings are over 1000 times as likely that way.",
    )
    assert "1 pair does not differ more than pairs usually do." in section.sentences
    page = html("legs", section)
    assert HOSTILE not in page
    assert "&lt;b&gt;F&amp;02&lt;/b&gt;" in page
    assert "Nothing was changed in the log" in page
    assert "bike 9 has two." in page


def test_a_pair_that_differs_by_function_is_not_blamed():
    result = LegResult({}, (pair(BY_FUNCTION, by_function="the left leg runs Plain, the right none"),))
    (row,) = legs_section(result, in_service=(), as_of=AS_OF).rows
    assert not row.urgent
    assert row.why == "The left leg runs Plain, the right none, so they need not be alike and neither is blamed."


@pytest.mark.parametrize(
    ("swap", "said"),
    [
        (
            PossibleSwap("m", "A", "B", AS_OF, False, 30.0, False),
            "the entries of 20 Jun swapped? Their ratings are 30 times",
        ),
        (PossibleSwap("m", "A", "B", AS_OF, False, 1.0, True), "Both hour meters carry on only if they are swapped."),
    ],
)
def test_swaps_are_questions(swap, said):
    assert (
        said in legs_section(LegResult({}, (pair(LIKE_OTHER_PAIRS),), (swap,)), in_service=(), as_of=AS_OF).swaps[0]
    )


def volume_of(units, *others):
    verdicts = [(unit.unit_key, unit.verdict) for unit in units]
    return VolumeResult(units, *others, verdicts=pl.DataFrame(verdicts, schema=VERDICTS_SCHEMA, orient="row"))


def balance(verdict, name="F01", **more):
    facts = {"per_hour": 2.5, "error": 0.5, "low": 1.6, "high": 3.4, "came_back": None, "step_on": None}
    facts |= {"inspect": False, "reason": f"Reason for {name}."} | more
    return UnitBalance(name, 10, 520.0, 52.0, 0.1, verdict=verdict, **facts)


def test_units_that_lose_oil_are_in_the_table_and_the_rest_in_a_sentence():
    units = (balance(LOSES, HOSTILE), balance(STEP), balance(CANNOT_TELL, per_hour=None), balance(USUAL, "F09"))
    section = volume_section(volume_of(units, 0.05, 0.04, 0.06, False, ("Fleet sentence.",), 2), in_service={"F01"})
    assert [row.urgent for row in section.rows] == [True, True, False]
    assert [row.per_hour for row in section.rows] == ["+2.50 (1.60 to 3.40)", "+2.50 (1.60 to 3.40)", "not known"]
    assert section.rows[0].missing == "52 of 520"
    page = html("volume", section)
    assert HOSTILE not in page
    assert "1 unit shows nothing beyond what the drain method leaves behind" in page
    assert "2 drains without both volumes and hours could not be used." in page
    assert "A leak means inspect now" in page


def test_long_lists_are_cut_and_counted():
    units = tuple(balance(LOSES, f"F{at:02d}") for at in range(MOST_ROWS + 3))
    section = volume_section(volume_of(units, 0.1, 0.1, 0.1, None, (), 0), in_service=())
    assert len(section.rows) == MOST_ROWS
    assert "3 more units are not listed." in section.sentences


def oils(*rows):
    schema = {"oil_grade": pl.String, "kv40": pl.Float64, "kv100": pl.Float64, "note": pl.String}
    return oil_catalogue(pl.DataFrame(rows, schema=schema, orient="row"))


def test_the_catalogue_is_a_table_with_its_notes():
    found = oils((HOSTILE, 32.0, 5.4, None), ("Fork 5", 22.83, 5.05, "house"), ("Red", None, None, None))
    result = OilResult(found.celsius, found.grades, found.shared_labels, ("Compared by name.",), ("Fork 9",))
    section = oils_section(result)
    assert section.headings == ("grade", "kv40", "kv100", "VI", "kv20", "kv at 60 C", "ISO 3448")
    assert section.rows[0].cells[:4] == ("Fork 5", "22.8", "5.05", "156")
    page = html("oils", section)
    assert HOSTILE not in page
    assert "In the log, but not in the catalogue: Fork 9." in page
    assert "no viscosity is known" in page
    lines = list(oil_lines(result))
    assert lines[1].startswith("Fork 5")
    assert any(line.startswith("Red: no viscosity is known") for line in lines)
    assert list(oil_lines(oils())) == ["No oil in the file."]


def ahead(weeks=2):
    rows = []
    for first, last in [*((week, week + 1) for week in range(weeks)), *([(0, weeks)] if weeks > 1 else [])]:
        span = (AS_OF + timedelta(days=7 * first), AS_OF + timedelta(days=7 * last - 1))
        rows.append((*span, "services", None, "services", 5.25, 4.0, 7.0))
        rows.append((*span, "oil", HOSTILE, "l", 2.6, 2.08, 3.12))
        rows.append((*span, "rebuilds", None, "rebuilds", 0.01, 0.0, 0.0))
    table = pl.DataFrame(rows, schema=empty_forecast().schema, orient="row")
    return ForecastResult(checked_forecast(table), weeks, 9, ("Riding comes from the drains.",))


def test_the_weeks_ahead_come_with_a_picture_and_their_sum():
    section = forecast_section(Figure(), ahead(), as_of=AS_OF)
    assert section.headings == ("Services", "Rebuilds", f"{HOSTILE} [l]")
    assert [row.total for row in section.rows] == [False, False, True]
    assert section.rows[0].when == "20 Jun to 26 Jun"
    assert section.rows[0].cells == ("5.2 (4 to 7)", "0", "2.6 (2.1 to 3.1)")
    assert "services [count]" in section.picture.svg
    assert "week beginning" in section.picture.svg
    page = html("forecast", section)
    assert HOSTILE not in page
    assert "all, 20 Jun to 3 Jul" in page


def test_one_week_needs_no_picture():
    section = forecast_section(Figure(), ahead(1), as_of=AS_OF)
    assert section.picture is None
    assert [row.total for row in section.rows] == [False]


def test_sections_without_content_are_left_out():
    figure = Figure()
    none = (
        ("legs", legs_section(LegResult(), in_service=(), as_of=AS_OF)),
        ("volume", volume_section(VolumeResult((), None, None, None, None, (), 3, "no volumes"), in_service=())),
        ("oils", oils_section(None)),
        ("oils", oils_section(oils())),
        ("forecast", forecast_section(figure, None, as_of=AS_OF)),
        ("forecast", forecast_section(figure, ForecastResult(empty_forecast(), 8, 0, ()), as_of=AS_OF)),
    )
    for name, section in none:
        assert section is None
        assert html(name, section).strip() == ""


def test_sections_that_found_nothing_say_so():
    assert "No leg was found to differ from its partner" in html(
        "legs", legs_section(LegResult({}, (pair(LIKE_OTHER_PAIRS),)), in_service=(), as_of=AS_OF)
    )
    unjudged = html("legs", legs_section(LegResult({}, (pair(TOO_FEW),)), in_service=(), as_of=AS_OF))
    assert "No pair of legs can be judged yet." in unjudged
    assert "No leg was found to differ" not in unjudged, "nothing was looked at"
    quiet = volume_of((balance(USUAL),), None, None, None, None, (), 0)
    assert "No unit appears to lose oil." in html("volume", volume_section(quiet, in_service=()))
