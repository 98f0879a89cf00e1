"""The sentence on why a unit is due: hours that wear sets are counted on this oil, or were past before it."""

import polars as pl
import pytest

from draincurve.pipeline.deciding.due_dates import DueFrom
from draincurve.pipeline.deciding.reasons import reasons
from draincurve.schemas.settings import Settings

WEAR = "bush clearance may reach its limit (0.3 mm or more) at 178 h on the part: inspect and measure by then"


@pytest.mark.parametrize(
    ("interval_h", "set_by", "said"),
    [
        (
            4.5,
            "wear",
            "at 178 h on the part: inspect and measure by then; 7 h on the oil; overdue by 2.5 h on this oil.",
        ),
        (0.0, "wear", "by then; 7 h on the oil; the part was past that before this oil was filled."),
        (4.5, "maker_limit", "The maker's limit sets 4.5 h; 7 h on the oil; overdue by 2.5 h."),
    ],
)
def test_which_hours_are_over_is_said(interval_h, set_by, said):
    row = {
        "signs": None, "interval_h": interval_h, "hours_set_by": set_by, "wear_why": WEAR, "cost_binds": False,
        "risk_by_channel": "", "limit_borrowed": False, "drains": 4, "hours_on_oil": 7.0, "past_plausible_h": None,
        "unknown_h": 0.0, "unknown_days": 0, "drain_day_h": 0.0, "due_from": DueFrom.OVERDUE,
        "hours_left": interval_h - 7.0,
    }  # fmt: skip
    (sentence,) = reasons(pl.DataFrame([row]), Settings())
    assert sentence.endswith(said)
