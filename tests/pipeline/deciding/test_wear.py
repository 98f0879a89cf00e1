"""Wear points on each unit's own clock, and what they do to its interval."""

from dataclasses import replace

import polars as pl
import pytest
from worn_fleets import LIMIT, day, drains, readings, state, straight, worn

from draincurve.pipeline.deciding.wear import wear_warnings, with_wear, with_worn_units
from draincurve.schemas.errors import SettingsError
from draincurve.schemas.settings import Settings

HOURS = (0, 30, 60, 90, 120)
LOG = drains([(unit, 20 * at, 30) for unit in ("F1", "F2", "F3") for at in range(5)])
FLEET = [*straight("F1", 0.0010, HOURS), *straight("F2", 0.0014, HOURS), *straight("F3", 0.0018, HOURS)]


def of(result, unit, channel=0):
    return next(item for item in result.quantities[channel].units if item.unit_key == unit)


def cap(result, unit):
    return result.caps.filter(pl.col("unit_key") == unit)["wear_h"][0]


def test_the_wear_point_less_the_parts_hours_is_what_this_oil_may_run():
    result = worn(readings(FLEET), LOG, ["F1", "F2", "F3"])
    faster = of(result, "F3")
    assert faster.clock_now == 120.0
    assert faster.line_low < faster.line_middle < faster.line_high
    assert faster.line_middle == pytest.approx(139, abs=4), "0.35 at 139 h on its line"
    assert faster.wear_hours > 120
    assert faster.wear_hours < faster.line_middle
    assert cap(result, "F3") == pytest.approx(faster.wear_hours - 120.0)
    assert not faster.beyond_range
    slowest = of(result, "F1")
    assert slowest.beyond_range, "0.35 lies at 250 h, far beyond what was measured"
    assert slowest.wear_hours == 1.25 * 120
    assert "was measured at fewer hours only: measure it by 150 h" in slowest.why
    assert faster.over_h is slowest.over_h is None
    assert result.caps["wear_over_h"].to_list() == [None] * 3
    assert faster.why.endswith("on the part: inspect and measure by then")
    assert faster.why_run.endswith("on the part: inspect and measure now")
    assert "measure it now, as it was to be by 150 h" in slowest.why_run


def test_a_part_that_ran_past_its_wear_point_before_this_oil_says_that_it_did():
    later = pl.concat([LOG, drains([("F3", 90, 40), ("F1", 90, 80)])])
    result = worn(readings(FLEET), later, ["F1", "F3"])
    faster, slowest = of(result, "F3"), of(result, "F1")
    assert faster.over_h == pytest.approx(160.0 - faster.wear_hours)
    assert result.caps["wear_over_h"].to_list() == [slowest.over_h, faster.over_h]
    assert f"may have reached its limit (0.35 mm or more) at {faster.wear_hours:.3g} h on the part" in faster.why
    assert slowest.over_h == 50.0
    assert "measure it now, as it was to be by 150 h on the part" in slowest.why
    assert "by then" not in faster.why + slowest.why


def test_drains_since_the_reading_use_the_part():
    later = pl.concat([LOG, drains([("F3", 90, 8), ("F3", 100, 7)])])
    result = worn(readings(FLEET), later, ["F3"])
    assert of(result, "F3").clock_now == 135.0


def test_a_reading_in_the_middle_of_a_fill_counts_by_the_usage_log():
    rows = [*FLEET, ("F3", 85, 0.3, 124.0)]
    usage = pl.DataFrame({"unit_key": ["F3", "F3"], "date": [day(82), day(84)], "hours": [1.5, 2.5]})
    assert of(worn(readings(rows), LOG, ["F3"]), "F3").clock_now == 124.0
    assert of(worn(readings(rows), LOG, ["F3"], usage=usage), "F3").clock_now == 120.0
    twice = pl.concat([usage, usage])
    assert of(worn(readings(rows), LOG, ["F3"], usage=twice), "F3").clock_now == 120.0
    of_no_day = usage.with_columns(pl.lit(25.0).alias("hours"))
    assert of(worn(readings(rows), LOG, ["F3"], usage=of_no_day), "F3").clock_now == 124.0


def test_a_rebuild_starts_a_new_part_with_the_fleets_line():
    log = pl.concat([LOG, drains([("F3", 90, 5, "rebuild"), ("F3", 95, 6)])])
    result = worn(readings(FLEET), log, ["F1", "F2", "F3"])
    new = of(result, "F3")
    assert new.readings == 0
    assert new.last_value is None
    assert new.clock_now == 6.0
    assert "the fleet's stands in" in new.why
    assert new.wear_hours <= of(worn(readings(FLEET), LOG, ["F1", "F2"]), "F1").wear_hours


def test_a_unit_that_was_never_measured_gets_the_fleets_and_at_least_the_logs_hours():
    log = pl.concat([LOG, drains([("F9", 10, 40), ("F9", 40, 35)])])
    result = worn(readings(FLEET), log, ["F1", "F2", "F3", "F9"])
    borrowed, known = of(result, "F9"), of(result, "F2")
    assert borrowed.clock_now == 75.0
    assert "at least those in the log" in borrowed.why
    assert borrowed.wear_hours < known.wear_hours, "wide, so sooner"


def test_a_reading_past_the_limit_asks_for_an_inspection():
    rows = [*FLEET, ("F3", 100, 0.36, 140.0)]
    result = worn(readings(rows), LOG, ["F1", "F2", "F3"])
    assert cap(result, "F3") == 0.0
    assert "inspect now, whatever the hours" in of(result, "F3").why
    assert result.signs.select("unit_key", "signs").rows() == [("F3", "bush clearance past its limit")]
    rebuilt = pl.concat([LOG, drains([("F3", 110, 2, "rebuild")])])
    assert worn(readings(rows), rebuilt, ["F3"]).signs.is_empty()


def test_one_reading_without_hours_past_the_limit_is_not_missed():
    result = worn(readings([*FLEET, ("F1", 100, 0.4, None)]), LOG, ["F1"])
    assert of(result, "F1").past_limit
    assert cap(result, "F1") == 0.0
    assert any("shown but not fitted" in text for text in result.quantities[0].left_out)


def test_a_line_that_does_not_rise_is_no_licence():
    flat = [(unit, 20 * at, 0.12 + 0.001 * (at % 2), h) for unit in ("F1", "F2") for at, h in enumerate(HOURS)]
    result = worn(readings(flat), LOG, ["F1", "F2"])
    assert of(result, "F1").wear_hours == 150.0
    assert of(result, "F1").beyond_range


def test_readings_all_at_the_same_hours_still_bound_what_is_known():
    result = worn(
        readings([(unit, 20, 0.1 + 0.01 * at, 60.0) for at, unit in enumerate(("F1", "F2", "F3"))]), LOG, ["F1"]
    )
    assert "same hours" in result.quantities[0].why_not
    assert of(result, "F1").wear_hours == 75.0


def test_fewer_readings_never_allow_more():
    """Leaving out a unit's readings, or their hours, moves nothing later."""
    whole = cap(worn(readings(FLEET), LOG, ["F1", "F2", "F3"]), "F3")
    half = [row for row in FLEET if row[0] != "F3" or row[3] < 70]
    assert cap(worn(readings(half), LOG, ["F1", "F2", "F3"]), "F3") <= whole + 10.0
    without = [row for row in FLEET if row[0] != "F3"]
    assert cap(worn(readings(without), LOG, ["F1", "F2", "F3"]), "F3") <= whole + 1e-9


def test_the_tighter_of_makers_and_shops_limit_stands():
    both = replace(LIMIT, maker_wear_limits={"bush_clearance": "0.3 mm"})
    limit = worn(readings(FLEET), LOG, ["F1"], both).quantities[0].limit
    assert (limit.high, limit.source) == (0.3, "the maker's limit")
    loose = replace(LIMIT, maker_wear_limits={"bush_clearance": "0.5 mm"})
    assert worn(readings(FLEET), LOG, ["F1"], loose).quantities[0].limit.source == "the shop's limit"


@pytest.mark.parametrize(
    ("limits", "wording"),
    [
        ({"iron": "3 mm"}, "does not measure Iron"),
        ({"viscosity 40": "12 cSt"}, "say which side is worse"),
        ({"fork twist": "3 deg"}, "say which side is worse"),
        ({"iron": "18/16/13"}, "limits iso_code, and only it"),
        ({"fork twist": "10 % from new"}, "known here"),
    ],
)
def test_limits_that_do_not_fit_are_errors(limits, wording):
    with pytest.raises(SettingsError, match=wording):
        worn(readings(FLEET), LOG, ["F1"], Settings(wear_limits=limits))


def test_without_a_limit_nothing_is_set():
    result = worn(readings(FLEET), LOG, ["F1"], Settings())
    assert result.caps["wear_h"].to_list() == [None]
    assert "no limit is set" in of(result, "F1").why
    assert "3 parts were measured; 59 are needed" in str(result.quantities[0].fleet_limit)


def test_unknown_quantities_are_named_and_fitted_only_with_a_limit():
    rows = readings(FLEET, "Fork twist", "deg")
    result = worn(rows, LOG, ["F1"], Settings())
    assert result.unknown == (("Fork twist", "deg", 15),)
    assert result.quantities == ()
    limited = worn(rows, LOG, ["F3"], Settings(wear_limits={"fork twist": "over 0.35 deg"}))
    assert limited.quantities[0].title == "Fork twist"
    assert of(limited, "F3").wear_hours < 160
    other = worn(rows, LOG, ["F3"], Settings(wear_limits={"fork twist": "over 6 mm"}))
    assert other.quantities == ()
    assert other.unused_limits == ("forktwist = 'over 6 mm'",)
    assert "The limit forktwist = 'over 6 mm' watches nothing" in wear_warnings(other)[0]


def test_oil_counts_its_own_hours():
    log = drains([(unit, 10 * at, hours) for unit in ("F1", "F2") for at, hours in enumerate((5, 10, 15, 20))])
    rows = [(unit, 10 * at, 2 + slope * hours + 0.2 * (at % 2), None)
            for unit, slope in (("F1", 2.0), ("F2", 3.0)) for at, hours in enumerate((5, 10, 15, 20))]  # fmt: skip
    result = worn(readings(rows, "iron", "mg/kg"), log, ["F1", "F2"], Settings(wear_limits={"Fe": "55 ppm"}))
    unit = of(result, "F2")
    assert unit.clock_now == 0.0
    assert cap(result, "F2") == unit.wear_hours
    assert 14 < unit.wear_hours < 17.7, "55 mg/kg at 17.7 h on its line"


def test_viscosity_is_judged_by_its_change_from_new():
    log = drains([("F1", 10 * at, 10) for at in range(4)])
    rows = readings([("F1", 10 * at, value, None) for at, value in enumerate((14.6, 14.2, 13.9, 13.2))],
                    "viscosity_40", "mm2/s")  # fmt: skip
    oils = pl.DataFrame({"oil_grade": ["Fork 5"], "kv40": [15.0], "kv100": [3.6]})
    channel = worn(rows, log, ["F1"], Settings(), oils).quantities[0]
    assert channel.unit == "% from new"
    assert channel.looks == (5.0, 10.0)
    assert channel.units[0].last_value == pytest.approx(-12.0)
    assert channel.units[0].allowed_h is None, "a first look of the trade sets no date"
    unknown = worn(rows, log, ["F1"], Settings(), None).quantities[0]
    assert unknown.unit == "mm2/s"


def test_states_and_signs_take_up_the_wear():
    result = worn(readings([*FLEET, ("F3", 100, 0.36, 140.0)]), LOG, ["F1", "F3"])
    units = state(["F1", "F3"], LOG).with_columns(pl.Series("signs", [None, "leak"], dtype=pl.String))
    taken = with_wear(units, result)
    assert taken["signs"].to_list() == [None, "leak, bush clearance past its limit"]
    assert taken["wear_h"].to_list()[1] == 0.0
    assert with_wear(units, None) is units
    seen = pl.DataFrame({"unit_id": ["F3"], "site": [None], "drained_on": [day(3)], "signs": ["leak"]},
                        schema_overrides={"site": pl.String})  # fmt: skip
    merged = with_worn_units(seen, result)
    assert merged.rows() == [("F3", None, day(100), "leak, bush clearance past its limit")]


def of_iron(rows, bounds=None):
    """Samples of the oil; bounds : by position, those that are only known to be under their value."""
    frame = readings(rows, quantity="iron", unit="mg/kg")
    marks = ["under" if at in (bounds or ()) else None for at in range(frame.height)]
    return frame.with_columns(pl.Series("bound", marks, dtype=pl.String))


IRON = Settings(wear_limits={"iron": "60 mg/kg"})
OIL_LOG = drains([(unit, 20 * at, 10 + at) for unit in ("F1", "F2", "F3") for at in range(6)])
SAMPLES = [
    (unit, 20 * at, (2.0 + slope * (10 + at)) * (1 + 0.03 * (-1) ** at), None)
    for unit, slope in (("F1", 1.5), ("F2", 2.0), ("F3", 2.5))
    for at in range(6)
]


def test_several_samples_of_a_fill_are_one_look():
    once = worn(of_iron(SAMPLES), OIL_LOG, ["F1", "F3"], IRON)
    twice = worn(of_iron([*SAMPLES, *SAMPLES]), OIL_LOG, ["F1", "F3"], IRON)
    assert of(once, "F3").readings == of(twice, "F3", 0).readings
    assert of(once, "F3").wear_hours == of(twice, "F3", 0).wear_hours


@pytest.mark.parametrize("value", [1.0, 58.0])
def test_a_sample_in_doubt_never_lengthens_the_interval(value):
    """A low value flattens the line, a high one shortens what is left."""
    plain = worn(of_iron(SAMPLES), OIL_LOG, ["F3"], IRON)
    doubtful = worn(of_iron([*SAMPLES, ("F3", 98, value, None)]), OIL_LOG, ["F3"], IRON)
    assert of(doubtful, "F3").allowed_h <= of(plain, "F3").allowed_h
    assert any("may be of another drain" in text for text in doubtful.quantities[0].left_out)


def test_bounds_enter_the_fit_and_are_past_no_limit():
    low = [(unit, 20 * at + 1, 5.0, 2.0) for unit in ("F1", "F2") for at in range(2)]
    result = worn(of_iron([*SAMPLES, *low], range(18, 22)), OIL_LOG, ["F1"], IRON)
    assert any("only known to be under or over a bound" in text for text in result.quantities[0].left_out)
    assert of(result, "F1").wear_hours > 0
    unseen = worn(of_iron([*SAMPLES, ("F1", 105, 80.0, None)], [18]), OIL_LOG, ["F1"], IRON)
    assert not of(unseen, "F1").past_limit
    assert any("past the limit" in text for text in unseen.quantities[0].left_out)
