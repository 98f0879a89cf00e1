"""Pictures of a large fleet's units have the draws of their intervals, also where names may be one."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
from decided_logs import FEW_DRAWS, checked, decisions
from small_logs import drain, simple_log

from draincurve.pipeline.deciding import OIL, unit_curves

STEP_H = 0.01
SETTINGS = replace(FEW_DRAWS, step_h=STEP_H)
WITH_SIGNS = ("U01", "U02", "U03", "U99", "U100", "U101", "U102", "U150", "U201", "U205")
"""Units of every block, the first and the last of some, whose pictures a large fleet's report has."""


def fleet() -> list[dict]:
    """Three blocks of units, of which some leak; U02 may have dirty drains under UO2, and U150's rider two names."""
    rows = []
    for row in simple_log(205, 4, hours=(9.0, 14.5)):
        rider = "Brassk" if row["unit_id"] == "U150" else row["rider"]
        rows.append(row | {"leak": "yes" if row["unit_id"] in WITH_SIGNS else "no", "rider": rider})
    return rows + [drain("UO2", date(2026, 5, day), 6.0, 5, 5, leak="no") for day in (3, 9, 14)]


def test_a_units_curve_reaches_the_accepted_risk_at_its_interval(large_at_once, monkeypatch) -> None:
    monkeypatch.setattr(unit_curves, "POINTS", 6000)  # between two of so many a curve is straight
    found = decisions(checked(fleet(), SETTINGS), SETTINGS)
    interval = dict(found.next_service.select("unit_id", "interval_h").iter_rows())
    pictures = [curve for curve in found.unit_curves if curve.channel == OIL]
    assert {curve.unit_id for curve in pictures} >= {"UO2", *WITH_SIGNS}
    for curve in pictures:
        crosses = float(np.interp(SETTINGS.accepted_risk, curve.risk, curve.hours))
        assert interval[curve.unit_id] - 1e-6 <= crosses < interval[curve.unit_id] + STEP_H + 1e-6, curve.unit_id
    assert len(found.by_questions) == 1
    assert "U02 (" in found.by_questions[0]
    assert "shorter until it is known whether Brassk is Brask, UO2 is U02" in found.by_questions[0]
