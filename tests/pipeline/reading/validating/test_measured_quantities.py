"""Measurements through validation: one name and unit for each quantity, what cannot be is held back."""

import polars as pl
import pytest

from draincurve.pipeline.reading.validating.detection_limits import detection_limits
from draincurve.schemas.errors import SettingsError
from draincurve.schemas.settings import Settings

DRAINS = (
    {"drained_on": "2026-03-04", "oil_hours": "12"},
    {"drained_on": "2026-04-04", "oil_hours": "10", "service_kind": "rebuild"},
    {"drained_on": "2026-06-04", "oil_hours": "11"},
)


def reading(quantity, value, unit="", on="2026-03-04", hours=None, rebuilt=None):
    return {"unit_id": "F07", "measured_on": on, "quantity": quantity, "value": value, "unit": unit,
            "component_hours": hours, "rebuilt_on": rebuilt}  # fmt: skip


@pytest.fixture
def measured(check):
    def log(*readings):
        found = check(*DRAINS, measurements=list(readings))
        account = next(item for item in found.accounts if item.table == "measurements")
        assert account.read == account.accepted + account.held_back == len(readings)
        return found

    return log


def kept(log):
    return log.accepted["measurements"].sort("line").select("quantity", "value", "unit").rows()


def held(log):
    rows = log.held_back.filter(pl.col("table") == "measurements").sort("line")
    return list(zip(rows["line"], rows["reason"], strict=True))


def test_names_and_units_become_one(measured):
    log = measured(
        reading("Fe", "30", "ppm"),
        reading("iron (ppm)", "31"),
        reading("Bush Clearance", "12 thou"),
        reading("water %", "0.02"),
        reading("spring length", "18.1", "in"),
    )
    assert kept(log) == [
        ("iron", 30.0, "mg/kg"),
        ("iron", 31.0, "mg/kg"),
        ("bush_clearance", pytest.approx(0.3048), "mm"),
        ("water", pytest.approx(200.0), "mg/kg"),
        ("spring_free_length", pytest.approx(459.74), "mm"),
    ]
    assert held(log) == []


def test_unknown_quantities_are_kept_and_named_once(measured, messages):
    log = measured(reading("Fork twist", "2", "deg"), reading("fork-twist", "2.1 deg"), reading("Fork twist", "3"))
    assert [row[0] for row in kept(log)] == ["Fork twist"] * 3
    assert sum("'Fork twist' is no quantity that is known here" in text for text in messages(log)) == 1


def test_a_missing_unit_is_the_one_the_file_uses(measured, messages):
    log = measured(reading("bush clearance", "5", "thou"), reading("bush clearance", "6"))
    assert [row[1] for row in kept(log)] == pytest.approx([0.127, 0.1524])
    assert any("without a unit is read as thou" in text for text in messages(log))


IMPOSSIBLE = [
    (reading("iron", "3", "mm"), "'mm' does not measure Iron"),
    (reading("bush clearance", "12", "mm"), "is not plausible: 12.0 mm"),
    (reading("gap", "0.2 mm", "in"), "says mm and in"),
    (reading("bush clearance", "0.2 mm", "in"), "says mm and in"),
    (reading("ISO code", "18"), "no whole code"),
    (reading("iron", "18/16/13"), "a code of particles, not a value of 'iron': write the value"),
    (reading("free length", "<460", "mm"), "is a bound"),
    (reading("iron", "3", "ppm", on="2027-01-01"), "future"),
    (reading("free length", "460", "mm", rebuilt="2026-05-01"), "after the day of the reading"),
]


def test_what_cannot_be_is_held_back(measured):
    log = measured(*(row for row, _ in IMPOSSIBLE), reading("iron", "30", "ppm"))
    assert [line for line, _ in held(log)] == list(range(2, 2 + len(IMPOSSIBLE)))
    for (_, reason), (_, wording) in zip(held(log), IMPOSSIBLE, strict=True):
        assert wording in reason


def test_an_oil_that_thickens_with_heat_is_no_oil(measured):
    log = measured(
        reading("kv40", "15", "cSt"),
        reading("kv100", "15", "cSt"),
        reading("kv40", "15.1", "cSt", on="2026-06-04"),
        reading("kv100", "3.6", "cSt", on="2026-06-04"),
    )
    assert [line for line, _ in held(log)] == [2, 3]
    assert all("not under 15.0 mm2/s at 40 C" in reason for _, reason in held(log))


def bounds(log):
    return log.accepted["measurements"].sort("line").select("quantity", "value", "bound").rows()


def test_a_bound_is_kept_as_a_bound(measured, messages):
    log = measured(reading("water", "<50", "ppm"), reading("iron", "> 900", "ppm"), reading("copper", "3", "ppm"))
    assert bounds(log) == [("water", 50.0, "under"), ("iron", 900.0, "over"), ("copper", 3.0, None)]
    assert any("neither as the bound nor as 0 (1 reading)" in text for text in messages(log))


def test_a_trace_needs_the_limit_of_detection(measured, check):
    rows = [
        reading("water", "trace", "ppm"),
        reading("iron", "n.d.", "ppm"),
        reading("iron", "0", "ppm", "2026-04-04"),
    ]
    log = measured(*rows)
    assert [line for line, _ in held(log)] == [2, 3]
    assert all("write the laboratory's bound" in reason for _, reason in held(log))
    assert log.reasons["setting"].str.contains(r"\[detection_limits\]").all()
    known = Settings(detection_limits={"iron": "2 ppm", "water": "0.01 %"})
    found = check(*DRAINS, measurements=rows, settings=known)
    assert bounds(found) == [("water", 100.0, "under"), ("iron", 2.0, "under"), ("iron", 2.0, "under")]


@pytest.mark.parametrize("wrong", [{"iron": "2 mm"}, {"free length": "4 mm"}, {"iron": "over 2"}, {"rust": "2"}])
def test_a_limit_of_detection_that_cannot_be(wrong):
    with pytest.raises(SettingsError, match="detection_limits"):
        detection_limits(Settings(detection_limits=wrong))


def test_copies_and_contradictions(measured):
    log = measured(
        reading("bush clearance", "0.1", "mm", hours="5"),
        reading("bush clearance", "0.1", "mm", hours="5"),
        reading("bush clearance", "0.2", "mm", hours="5"),
    )
    assert [(line, reason[:9]) for line, reason in held(log)] == [(3, "is a copy")]


def test_a_clock_that_runs_backwards(measured):
    rows = [
        reading("bush clearance", "0.10", "mm", "2026-03-04", "40"),
        reading("bush clearance", "0.12", "mm", "2026-03-20", "30"),
        reading("bush clearance", "0.11", "mm", "2026-03-25", "55"),
    ]
    log = measured(*rows)
    assert [line for line, _ in held(log)] == [3]
    assert "runs backwards against the 40 h of 2026-03-04" in held(log)[0][1]


def test_one_wrong_early_clock_does_not_cost_the_later_ones(measured):
    rows = [reading("bush clearance", "0.10", "mm", "2026-02-01", "1400")]
    rows += [reading("bush clearance", f"0.1{day}", "mm", f"2026-03-0{day}", f"{20 + day}") for day in (1, 2, 3)]
    log = measured(*rows)
    assert [line for line, _ in held(log)] == [2]


def test_a_rebuild_sets_the_clock_back(measured):
    log = measured(
        reading("bush clearance", "0.2", "mm", "2026-03-04", "140"),
        reading("bush clearance", "0.0", "mm", "2026-04-10", "2"),
    )
    assert held(log) == []


def test_a_stated_rebuild_sets_the_clock_back_too(measured, messages):
    log = measured(
        reading("bush clearance", "0.2", "mm", "2026-02-04", "140"),
        reading("bush clearance", "0.0", "mm", "2026-02-20", "2", rebuilt="2026-02-10"),
    )
    assert held(log) == []
    asked = messages(log, "rebuilt_on")
    assert len(asked) == 1
    assert "before the unit's first drain in the log (2026-03-04)" in asked[0]


def test_hours_on_the_oil_that_the_drain_denies_are_asked_about(measured, messages):
    log = measured(reading("iron", "30", "ppm", hours="120"), reading("iron", "31", "ppm", "2026-06-04", "11.5"))
    assert held(log) == []
    assert messages(log, "component_hours") == [
        "is not the 12.0 h of the drain of that day, which are used: for what is in the oil, write hours on that oil"
    ]
