import pytest
from page_part import page_part

from draincurve.pipeline.deciding.next_samples import NextSample
from draincurve.reports.content.sample_rows import sample_rows
from draincurve.reports.content.unit_names import UnitNames

SAMPLES = (
    NextSample("F1", "north", "debris", 18.5, False, 0.912, "fleet", "Most drains were at 15 h."),
    NextSample("F1", "south", "colour", 7.0, True, 0.9995, "unit", "Few drains <b>of this unit</b>."),
    NextSample("F2", None, "debris", 9.5, False, 0.9951, "fleet", "At 9.5 h."),
)
NAMES = UnitNames(frozenset({"F1"}))


def page(samples: tuple[NextSample, ...]) -> str:
    return page_part("next_samples", next_samples=sample_rows(samples, NAMES, in_service=()))


def test_rows_name_the_unit_the_gain_and_whose_it_is():
    rows = sample_rows(SAMPLES, NAMES, in_service=())
    assert [row.name for row in rows] == ["F1 @ north", "F1 @ south", "F2"]
    assert [row.narrower_text for row in rows] == [
        "9 %, the fleet's interval, debris",
        "under 0.1 %, its own interval, colour",
        "0.5 %, the fleet's interval, debris",
    ]


def test_the_page_marks_hours_past_the_accepted_risk_once_and_escapes():
    text = page(SAMPLES)
    assert text.count("past the accepted risk") == 1
    assert "18.5 h" in text
    assert "<b>of this unit" not in text


@pytest.mark.parametrize("samples", [()])
def test_an_empty_list_says_so(samples: tuple[NextSample, ...]):
    assert "No drain is suggested" in page(samples)
    assert "<table" not in page(samples)
