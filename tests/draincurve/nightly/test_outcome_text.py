"""A night in lines for people."""

from pathlib import Path

from facts_at_hand import DAY, facts, unit

from draincurve.nightly.night_outcome import MOST_NAMED, NightOutcome, outcome_json
from draincurve.nightly.outcome_text import outcome_text
from draincurve.reports.content.report_changes import UnitName


def night(*units, **more) -> NightOutcome:
    return NightOutcome("done", 0, 1.0, report=Path("reports") / "latest", facts=facts(*units, **more))


def test_units_to_see_to_are_named() -> None:
    signs = {UnitName("F02", "North"): "milky"}
    lines = outcome_text(night(unit("F02"), unit("F03", due_on=DAY), unit("F04"), signs=signs))
    assert "1 unit to inspect now: F02 (milky)." in lines
    assert "1 unit due now: F03." in lines


def test_of_very_many_the_first_are_named() -> None:
    units = [unit(f"F{n:03}", due_on=DAY) for n in range(MOST_NAMED + 3)]
    outcome = night(*units)
    named = next(line for line in outcome_text(outcome) if "due now" in line)
    assert named.startswith(f"{MOST_NAMED + 3} units due now: F000, F001")
    assert named.endswith("and 3 more.")
    assert f'"F{MOST_NAMED - 1:03}"]' in outcome_json(outcome)


def test_nobody_to_see_to() -> None:
    lines = outcome_text(night(unit("F02")))
    assert "0 units to inspect now." in lines
    assert "0 units due now." in lines
