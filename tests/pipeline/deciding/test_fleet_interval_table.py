from __future__ import annotations

from dataclasses import replace

import polars as pl
from fleet_frames import AS_OF, drain, drains_of, register, sure_curves

from draincurve.pipeline.deciding.fleet_intervals import fleet_interval_table
from draincurve.pipeline.deciding.oil_curves import OilCurves
from draincurve.pipeline.describing.fleet_state import fleet_state
from draincurve.schemas.fleet_intervals_table import COLUMNS
from draincurve.schemas.settings import Caps, Settings

DRAINS = drains_of(drain("a", -20, 16.0), drain("a", -5, 12.0), drain("b", -9, 8.0, spring_type="light"))
IN_USE = pl.DataFrame(
    {"spring_type": ["steel", "light"], "oil_grade": ["amber", "amber"], "drains": [2, 1], "units": [1, 1]}
)


def by_spring(table: pl.DataFrame) -> dict[str, dict[str, object]]:
    assert tuple(table.columns) == COLUMNS
    return {row["spring_type"]: row for row in table.iter_rows(named=True)}


def test_each_spring_has_its_own_curve_and_its_own_range():
    curves = {"debris": sure_curves([9.8, 30.0]), "colour": sure_curves([900.0, 900.0])}
    found = by_spring(fleet_interval_table(IN_USE, OilCurves(curves), DRAINS, Settings()))
    assert (found["steel"]["interval_h"], found["steel"]["set_by"]) == (9.5, "debris")
    assert (found["light"]["interval_h"], found["light"]["set_by"]) == (10.0, "data_range")
    assert (found["steel"]["drains"], found["steel"]["units"]) == (2, 1)


def test_limits_of_the_fleet_and_of_registered_units_hold_for_a_new_one():
    curves = {"debris": sure_curves([15.0, 9.0])}
    capped = fleet_interval_table(IN_USE, OilCurves(curves), DRAINS, replace(Settings(), caps=Caps(7.0, None)))
    assert capped["interval_h"].to_list() == [7.0, 7.0]
    state = fleet_state(DRAINS, register({"unit_key": "a", "max_interval_h": 6.0}), as_of=AS_OF)
    found = by_spring(fleet_interval_table(IN_USE, OilCurves(curves), DRAINS, Settings(), state))
    assert (found["steel"]["interval_h"], found["steel"]["set_by"]) == (6.0, "maker_limit")
    assert found["light"]["interval_h"] == 6.0


def test_without_a_fit_the_caps_alone_decide_or_nothing_does():
    found = by_spring(fleet_interval_table(IN_USE, OilCurves({}), DRAINS, Settings()))
    assert (found["steel"]["interval_h"], found["steel"]["interval_low_h"]) == (20.0, None)
    nothing = fleet_interval_table(IN_USE, OilCurves({}), DRAINS.clear(), Settings())
    assert nothing["interval_h"].to_list() == [None, None]
    assert nothing["set_by"].to_list() == [None, None]
