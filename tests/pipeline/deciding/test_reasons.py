"""The sentence on why a unit is due: hours that wear sets are counted on this oil, or were past before it."""

import polars as pl
import pytest

from draincurve.pipeline.deciding.due_dates import DueFrom
from draincurve.pipeline.deciding.reasons import reasons
from draincurve.schemas.settings import Settings

WEAR = "bush clearance may reach its limit (0.3 mm or more) at 178 h on the part: inspect and measure by then"
RUN = "bush clearance may have reached its limit (0.3 mm or more) at 178 h on the part: inspect and measure now"


@pytest.mark.parametrize(
    ("interval_h", "set_by", "said"),
    [
        (
            4.5,
            "wear",
            "at 178 h on the part: inspect and measure now; 7 h on the oil; overdue by 2.5 h on this oil.",
        ),
        (4.5, "maker_limit", "The maker's limit sets 4.5 h; 7 h on the oil; overdue by 2.5 h."),
    ],
)
def test_which_hours_are_over_is_said(interval_h, set_by, said):
    assert sentence(interval_h=interval_h, hours_set_by=set_by).endswith(said)


@pytest.mark.parametrize(
    ("over_h", "said"),
    [
        (41.0, "7 h on the oil; that was 48 h ago, before this oil was filled."),
        (None, "7 h on the oil; wear leaves no hours."),
    ],
)
def test_a_part_that_was_past_its_hours_before_this_oil_says_since_when(over_h, said):
    assert sentence(interval_h=0.0, hours_set_by="wear", wear_over_h=over_h).endswith(said)


@pytest.mark.parametrize(
    ("rider", "site", "shared"),
    [
        ("Brask", "bench", " for its spring, oil, rider and site:"),
        (None, None, " for its spring and oil:"),
    ],
)
def test_a_unit_without_a_drain_says_whose_values_it_has(rider, site, shared):
    said = sentence(interval_h=7.0, hours_set_by="maker_limit", drains=0, rider=rider, site=site)
    assert (
        f"so its values are the fleet's{shared} its first drain, by these hours at the latest, tells its own" in said
    )
    assert "early" not in said
    bare = sentence(interval_h=7.0, hours_set_by="maker_limit", drains=0, spring_type=None, oil_grade=None)
    assert "so its values are the fleet's: its first drain" in bare


def sentence(*, interval_h, hours_set_by, **cells):
    """The sentence of one unit that is overdue."""
    row = {
        "signs": None, "interval_h": interval_h, "hours_set_by": hours_set_by, "wear_why": WEAR, "wear_why_run": RUN,
        "cost_binds": False, "risk_by_channel": "", "limit_borrowed": False, "drains": 4, "hours_on_oil": 7.0,
        "past_plausible_h": None, "unknown_h": 0.0, "unknown_days": 0, "drain_day_h": 0.0,
        "due_from": DueFrom.OVERDUE, "hours_left": interval_h - 7.0, "wear_over_h": None, "spring_type": "Plain 46",
        "oil_grade": "Fork 5", "rider": None, "site": None,
    }  # fmt: skip
    (said,) = reasons(pl.DataFrame([row | cells]), Settings())
    return said
