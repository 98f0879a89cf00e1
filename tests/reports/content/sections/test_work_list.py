"""The work list: who is on it, in which order, with what to do and how much oil."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import polars as pl
from invented_report import AS_OF, altered

from draincurve.pipeline.deciding import planned_rides
from draincurve.pipeline.judging.legs.leg_comparison import LegResult
from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.freshness import freshness
from draincurve.reports.content.oil_to_have import litres_text
from draincurve.reports.content.part_findings import PartFinding
from draincurve.reports.content.sections.next_ride import next_ride_text
from draincurve.reports.content.sections.unkept_bookings import BookedOutOfService
from draincurve.reports.content.sections.work_list import TURNED, WorkList, work_list
from draincurve.reports.content.service_rows import service_rows
from draincurve.reports.content.unit_names import UnitNames

NAMES = UnitNames(frozenset())
UNITS = ("F01", "F02", "F03", "F04", "F05", "F06")


def listed(result: PlanResult, **parts: tuple[PartFinding, ...]) -> WorkList:
    rides = planned_rides(result.described.usage, result.described.bookings, result.as_of)
    rows = service_rows(
        result.decided.next_service, NAMES, as_of=result.as_of, unit_reasons=result.decided.unit_reasons, rides=rides
    )
    return work_list(result, rows, names=NAMES, parts=parts, rides=rides, fresh=freshness(result))


def fleet(race_team: PlanResult, days: dict[str, int | None], **more) -> PlanResult:
    """Six units, each due so many days ahead (None: no date), no signs and no bookings."""
    dates = [None if days[unit] is None else AS_OF + timedelta(days=days[unit]) for unit in UNITS]
    due = pl.Series("due_on", dates, dtype=pl.Date)
    table = race_team.decided.next_service.head(6).with_columns(
        pl.lit(2.0).alias("hours_left"), due, pl.lit(None, dtype=pl.Date).alias("due_before")
    )
    signs = race_team.decided.inspect_now.clear()
    return altered(race_team, **({"next_service": table, "inspect_now": signs} | more))


LATE = {"F01": 30, "F02": 3, "F03": 0, "F04": None, "F05": 6, "F06": 7}


def booked(*rides: tuple[str, int, float]) -> pl.DataFrame:
    """Rides as unit, days ahead, hours."""
    units, days, hours = zip(*rides, strict=True)
    return pl.DataFrame({"unit_key": units, "date": [AS_OF + timedelta(days=day) for day in days], "hours": hours})


def test_without_bookings_it_goes_a_week_ahead_and_what_has_no_date_is_due(race_team: PlanResult) -> None:
    words = {line.name: line.word for line in listed(fleet(race_team, LATE)).lines}
    assert words == {
        "F02": "before the next ride",
        "F03": "due",
        "F04": "due",
        "F05": "before the next ride",
        "F06": "before the next ride",
    }


def test_it_ends_at_the_next_booked_day_and_names_what_follows(race_team: PlanResult) -> None:
    found = listed(fleet(race_team, LATE, bookings=booked(("F01", 4, 2.0), ("F05", 12, 2.0))))
    assert [line.name for line in found.lines] == ["F03", "F04", "F02"]
    assert found.title == "3 units up to Sun 17 May"
    assert found.later.startswith("After that: by Tue 19 May F05; by Wed 20 May F06. Oil for these changes: ")


def test_a_ride_of_today_is_the_next_one_until_the_usage_shows_it(race_team: PlanResult) -> None:
    days = {"F01": 30, "F02": 3, "F03": 0, "F04": 30, "F05": 6, "F06": 7}
    rides = booked(("F01", 0, 2.0), ("F03", 0, 2.0), ("F02", 7, 2.0), ("F03", 7, 1.0))
    morning = listed(fleet(race_team, days, bookings=rides))
    assert morning.title == "1 unit up to today's ride"
    assert morning.next_ride.startswith(
        "Ride today: Wed 13 May, 2 units booked. See to machine 2 (F03) before it; nothing is due on machine 1."
    )
    assert [line.name for line in morning.lines] == ["F03"], "what is due later in the week comes after"
    assert morning.later.startswith("After that: by Sat 16 May F02; ")
    ridden = pl.DataFrame({"unit_key": ["F01", "F03"], "date": [AS_OF] * 2, "hours": [2.0, 2.0]})
    evening = listed(fleet(race_team, days, bookings=rides, usage=ridden))
    assert evening.title == "4 units up to Wed 20 May"
    assert evening.next_ride.startswith("Next ride: Wed 20 May, 2 units booked. ")


def test_without_bookings_what_is_due_now_is_told_from_what_is_due_within_the_week(race_team: PlanResult) -> None:
    both = listed(fleet(race_team, LATE))
    assert both.title == "5 units up to Wed 20 May"
    assert both.next_ride.startswith(
        "No ride is booked. Work is due now on machine 2 (F03 and F04); within a week on machine 1 (F02) and "
        "machine 3 (F05 and F06). No work"
    )
    now = listed(fleet(race_team, {**dict.fromkeys(UNITS, 30), "F03": 0}))
    assert now.title == "1 unit up to Wed 20 May"
    assert now.next_ride.startswith(
        "No ride is booked. Work is due now on machine 2 (F03); none on machine 1 and machine 3. "
    )
    later = listed(fleet(race_team, {**dict.fromkeys(UNITS, 30), "F03": 4}))
    assert "Work is due within a week on machine 2 (F03); none on machine 1 and machine 3." in later.next_ride
    free = listed(fleet(race_team, dict.fromkeys(UNITS, 30))).next_ride
    assert free.startswith("No ride is booked. No work is due by Wed 20 May on machine 1, ")


def test_sites_then_machines_with_the_most_urgent_first_then_legs(race_team: PlanResult) -> None:
    signs = race_team.decided.inspect_now.head(1).with_columns(unit_id=pl.lit("F06"), signs=pl.lit("leak"))
    sites = pl.Series("site", ["B", "B", "A", "A", "A", "A"])
    result = fleet(race_team, dict.fromkeys(UNITS, 0), inspect_now=signs)
    result = altered(
        result,
        next_service=result.decided.next_service.with_columns(sites),
        unit_reasons=result.decided.unit_reasons.head(6).with_columns(sites),
    )
    found = listed(result)
    assert [(site.name, [line.name for line in site.lines]) for site in found.sites] == [
        ("A", ["F05", "F06", "F03", "F04"]),
        ("B", ["F01", "F02"]),
    ]
    assert found.sites[0].lines[1].task == "Inspect: leak (seen 22 Apr); then change the oil"


def test_a_unit_to_inspect_that_can_wait_for_oil_is_only_inspected(race_team: PlanResult) -> None:
    signs = race_team.decided.inspect_now.head(1).with_columns(unit_id=pl.lit("F01"), signs=pl.lit("flakes"))
    line = listed(fleet(race_team, LATE, inspect_now=signs)).lines[0]
    assert (line.name, line.word, line.task) == ("F01", "inspect", "Inspect: flakes (seen 22 Apr)")


def test_a_unit_to_inspect_that_is_not_in_service_is_on_it(race_team: PlanResult) -> None:
    signs = race_team.decided.inspect_now.head(1).with_columns(unit_id=pl.lit("F99"))
    (line,) = (line for line in listed(fleet(race_team, LATE, inspect_now=signs)).lines if line.name == "F99")
    assert (line.anchor, line.place, line.word) == ("", "not in service", "inspect")


def test_amounts_come_from_the_register_and_a_difference_is_asked_about(race_team: PlanResult) -> None:
    units = pl.DataFrame({"unit_key": ["F02", "F03", "F04"], "fill_ml": [520.0, 520.0, None]})
    drains = race_team.described.drains.with_columns(
        pl.col("unit_id").alias("unit_key"),
        pl.col("unit_id").replace_strict({"F02": 515.0, "F03": 400.0, "F04": 390.0}, default=None).alias("filled_ml"),
    )
    found = listed(fleet(race_team, LATE, units=units, drains=drains))
    amounts = {line.name: line.amount for line in found.lines}
    assert amounts["F02"] == "520 ml"
    assert amounts["F03"] == "520 ml by the register, 400 ml by its drains: which?"
    assert amounts["F04"] == "390 ml, as last filled"
    assert amounts["F05"] == "amount not known: see the maker's manual"
    assert "for 2 units the amount is not known" in found.oil
    assert "0.52\u00a0l Grade 5 clear" in found.oil


def test_parts_are_named_and_none_known_is_no_finding(race_team: PlanResult) -> None:
    result = fleet(race_team, LATE)
    assert "no finding" in listed(result).notes[0]
    found = listed(result, F02=(PartFinding("bushes", "replace now", "worn"), PartFinding("spring", "replace now")))
    assert [line.parts for line in found.lines if line.name == "F02"] == ["bushes, spring: replace now"]
    assert found.notes == ()


def test_an_interval_of_nought_is_never_shown_as_a_share_of_it(race_team: PlanResult) -> None:
    sources = pl.Series("set_by", ["wear", "colour", *["colour"] * 4])
    result = fleet(race_team, dict.fromkeys(UNITS, 0))
    nought = result.decided.next_service.with_columns(sources, pl.lit(0.0).alias("interval_h"))
    why = {line.name: line.why for line in listed(altered(result, next_service=nought)).lines}
    assert why["F01"].startswith("a wear limit may be passed; chance that the oil is past its limit: ")
    assert why["F02"].endswith("h on the oil; colour allows less than one step: change the oil after every ride")


def test_an_empty_list_says_so(race_team: PlanResult) -> None:
    found = listed(fleet(race_team, dict.fromkeys(UNITS, 30)))
    assert (found.lines, found.title) == ((), "nothing to do until Wed 20 May")


def test_a_part_that_is_due_puts_its_unit_on_the_list_though_its_oil_can_wait(race_team: PlanResult) -> None:
    parts = pl.DataFrame({"unit_id": ["F01", "F03"], "site": [None, None], "due_on": [AS_OF, AS_OF + timedelta(9)]})
    found = listed(fleet(race_team, LATE, parts=parts.with_columns(pl.col("site").cast(pl.String))))
    line = next(one for one in found.lines if one.name == "F01")
    assert (line.word, line.task) == ("due", "See to the parts that are due")


def test_a_unit_that_is_not_booked_to_ride_by_the_day_stands_apart_with_its_next_ride(race_team: PlanResult) -> None:
    rides = booked(("F01", 1, 2.0), ("F03", 1, 2.0), ("F05", 6, 2.0))
    found = listed(fleet(race_team, dict.fromkeys(UNITS, 0), bookings=rides))
    assert found.title == "6 units up to Thu 14 May"
    assert [(site.name, [line.name for line in site.lines]) for site in found.sites] == [
        ("", ["F01", "F03"]),
        ("No ride booked up to Thu 14 May", ["F05", "F06", "F02", "F04"]),
    ]
    why = {line.name: line.why for line in found.lines}
    assert why["F05"].endswith("; rides Tue 19 May")
    assert why["F06"].endswith("; no ride booked")
    assert "ride" not in why["F01"]


def test_a_second_change_within_the_week_is_named_with_its_oil(race_team: PlanResult) -> None:
    """Hours of fresh oil: 2 of the first ride and 2 of the second are over the 3.5 that it may run."""
    rides = booked(("F03", 1, 2.0), ("F03", 6, 2.0), ("F03", 9, 2.0), ("F05", 1, 2.0), ("F05", 6, 1.5))
    result = fleet(race_team, {**dict.fromkeys(UNITS, 30), "F03": 0, "F05": 0}, bookings=rides)
    short = result.decided.next_service.with_columns(pl.lit(3.5).alias("interval_h"))
    units = pl.DataFrame({"unit_key": ["F03"], "fill_ml": [390.0]})
    drains = race_team.described.drains.with_columns(pl.lit(None, dtype=pl.Float64).alias("filled_ml"))
    found = listed(altered(result, next_service=short, units=units, drains=drains))
    assert [line.name for line in found.lines] == ["F03", "F05"]
    assert found.later == (
        "After that: before Tue 19 May F03 again. Oil for these changes: 0.39\u00a0l Grade 5 clear."
    )
    why = {line.name: line.why for line in found.lines}
    assert "; again before Tue 19 May; " in why["F03"]
    assert "again" not in why["F05"]


def test_a_unit_that_is_only_measured_takes_no_oil_and_its_line_says_when_it_would(race_team: PlanResult) -> None:
    units = pl.DataFrame({"unit_key": list(UNITS), "fill_ml": [500.0] * 6})
    drains = race_team.described.drains.with_columns(pl.lit(None, dtype=pl.Float64).alias("filled_ml"))
    days = {"F01": 0, "F02": 0, "F03": 5, "F04": 5, "F05": 30, "F06": 30}
    result = fleet(race_team, days, units=units, drains=drains, bookings=booked(("F01", 1, 1.0), ("F02", 1, 1.0)))
    wear = pl.Series("set_by", ["wear", "debris"] * 3)
    worn = result.decided.next_service.with_columns(wear, pl.lit(0.03).alias("risk_now"))
    found = listed(altered(result, next_service=worn))
    oil = {line.name: (line.oil, line.amount) for line in found.lines}
    assert oil == {"F01": ("Grade 5 clear", "if changed: 500 ml"), "F02": ("Grade 7.5 red", "500 ml")}
    assert found.oil == "Oil for the changes on this list: 0.50\u00a0l Grade 7.5 red."
    assert found.later == (
        "After that: by Mon 18 May F03 (to measure for wear) and F04. "
        "Oil for these changes: 0.50\u00a0l Grade 7.5 red."
    )


def test_a_unit_to_inspect_first_is_named_again_where_its_oil_follows_within_the_week(race_team: PlanResult) -> None:
    signs = race_team.decided.inspect_now.head(1).with_columns(unit_id=pl.lit("F02"), signs=pl.lit("flakes"))
    days = {**dict.fromkeys(UNITS, 30), "F02": 6}
    found = listed(fleet(race_team, days, inspect_now=signs, bookings=booked(("F01", 1, 1.0))))
    assert [line.task for line in found.lines] == ["Inspect: flakes (seen 22 Apr)"]
    assert found.later.startswith("After that: by Tue 19 May F02. ")


def test_wear_asks_for_a_look_and_for_oil_only_where_the_oil_asks_for_it(race_team: PlanResult) -> None:
    result = fleet(race_team, dict.fromkeys(UNITS, 0))
    risks = pl.Series("risk_now", [0.03, 0.2, None, 0.03, 0.03, 0.03])
    worn = result.decided.next_service.with_columns(pl.lit("wear").alias("set_by"), risks)
    tasks = {line.name: line.task for line in listed(altered(result, next_service=worn)).lines}
    assert tasks["F01"] == "Inspect and measure for wear now"
    assert tasks["F02"] == tasks["F03"] == "Inspect and measure for wear, change the oil now"


def test_a_unit_that_has_changed_has_its_cause_looked_for(race_team: PlanResult) -> None:
    result = fleet(race_team, dict.fromkeys(UNITS, 0))
    turned = result.decided.next_service.with_columns(pl.col("unit_id").eq("F03").alias("turned"))
    why = {line.name: line.why for line in listed(altered(result, next_service=turned)).lines}
    assert [name for name, text in why.items() if TURNED in text] == ["F03"]


def test_the_sooner_day_comes_first_whatever_the_names(race_team: PlanResult) -> None:
    days = {"F01": 6, "F02": 30, "F03": 1, "F04": 30, "F05": 3, "F06": 30}
    assert [line.name for line in listed(fleet(race_team, days)).lines] == ["F03", "F05", "F01"]


def test_the_other_leg_is_named_where_it_can_wait(race_team: PlanResult) -> None:
    legs = LegResult({"F01": "F02", "F02": "F01", "F03": "F04", "F04": "F03", "F05": "F06", "F06": "F05"})
    found = listed(fleet(race_team, {"F01": 0, "F02": 10, "F03": 0, "F04": 60, "F05": 0, "F06": 0}, legs=legs))
    why = {line.name: line.why for line in found.lines}
    assert why["F01"].endswith("; the other leg, F02, is due by Sat 23 May: do both in one visit?")
    assert why["F03"].endswith("; the other leg, F04, is due by Sun 12 Jul")
    assert "leg" not in why["F05"] + why["F06"]


def test_oil_is_counted_once_site_by_site(race_team: PlanResult) -> None:
    sites = pl.Series("site", ["B", "B", "A", "A", "A", None])
    units = pl.DataFrame({"unit_key": list(UNITS), "fill_ml": [500.0] * 6})
    drains = race_team.described.drains.with_columns(pl.lit(None, dtype=pl.Float64).alias("filled_ml"))
    result = fleet(race_team, {**dict.fromkeys(UNITS, 0), "F02": 30}, units=units, drains=drains)
    result = altered(result, next_service=result.decided.next_service.with_columns(sites))
    assert listed(result).oil == (
        "Oil for the changes on this list: A: 1.00\u00a0l Grade 5 clear, 0.50\u00a0l Grade 7.5 red; "
        "B: 0.50\u00a0l Grade 5 clear; site not known: 0.50\u00a0l Grade 7.5 red."
    )


def test_oil_of_units_that_are_only_inspected_is_not_counted(race_team: PlanResult) -> None:
    units = pl.DataFrame({"unit_key": list(UNITS), "fill_ml": [500.0] * 6})
    drains = race_team.described.drains.with_columns(pl.lit(None, dtype=pl.Float64).alias("filled_ml"))
    signs = race_team.decided.inspect_now.head(1).with_columns(unit_id=pl.lit("F01"), signs=pl.lit("flakes"))
    result = fleet(race_team, {**dict.fromkeys(UNITS, 30), "F03": 0, "F05": 0}, units=units, drains=drains)
    worn = pl.when(pl.col("unit_id") == "F05").then(pl.lit("wear")).otherwise("set_by").alias("set_by")
    worn = result.decided.next_service.with_columns(worn, pl.lit(0.03).alias("risk_now"))
    found = listed(altered(result, next_service=worn, inspect_now=signs))
    assert found.oil == "Oil for the changes on this list: 0.50\u00a0l Grade 5 clear."
    inspected = listed(fleet(race_team, dict.fromkeys(UNITS, 30), units=units, drains=drains, inspect_now=signs))
    assert inspected.oil == "Oil for the changes on this list: none."
    assert [line.amount for line in inspected.lines] == ["if changed: 500 ml"]
    assert listed(fleet(race_team, dict.fromkeys(UNITS, 30))).oil == ""


def test_what_is_not_known_of_the_oil_is_named() -> None:
    fills = [("Grade 5 clear", None), ("Grade 5 clear", None), (None, 0.5), (None, None), ("Grade 5 clear", 0.5)]
    assert litres_text(fills) == (
        "0.50\u00a0l Grade 5 clear, for 1 unit oil and amount are not known, for 2 units the amount is not known, "
        "for 1 unit the oil is not known"
    )


def test_the_next_ride_is_said_with_the_units_that_need_work_before_it(race_team: PlanResult) -> None:
    rides = booked(("F01", 1, 2.0), ("F02", 1, 2.0), ("F03", 1, 2.0), ("F05", 6, 2.0))
    days = {"F01": 30, "F02": 9, "F03": 0, "F04": 30, "F05": 30, "F06": 30}
    said = listed(fleet(race_team, days, bookings=rides)).next_ride
    assert said.startswith(
        "Next ride: Thu 14 May, 3 units booked. See to machine 2 (F03) before it; nothing is due on machine 1. "
    )
    late = fleet(race_team, days, bookings=booked(("F01", 20, 2.0), ("F02", 20, 2.0)))
    assert "See to machine 1 (F02) before it. No work" in listed(late).next_ride, "due after the list's week"
    alone = fleet(race_team, days, bookings=booked(("F03", 1, 2.0)))
    assert "See to machine 2 (F03) before it. No work" in listed(alone).next_ride
    free = fleet(race_team, days, bookings=booked(("F01", 1, 2.0)))
    assert "No work is due before it on machine 1. No work" in listed(free).next_ride


def test_a_machine_rides_with_all_its_units_and_what_has_none_is_named_by_unit(race_team: PlanResult) -> None:
    days = {"F01": 30, "F02": 0, "F03": 30, "F04": 30, "F05": 0, "F06": 30}
    result = fleet(
        race_team, days, bookings=booked(("F01", 1, 2.0), ("F03", 1, 2.0), ("F05", 1, 2.0), ("F06", 1, 2.0))
    )
    machines = pl.Series("machine", ["bike 10", "bike 10", "bike 9", "bike 9", None, None])
    reasons = result.decided.unit_reasons.head(6).with_columns(machines)
    said = listed(altered(result, unit_reasons=reasons)).next_ride
    assert "4 units booked. See to bike 10 (F02) and F05 before it; nothing is due on bike 9 and F06." in said, (
        "F02 is not booked, but its machine is"
    )
    sites = pl.Series("site", ["North", "North", "South", "South", "South", "South"])
    twice = altered(
        result,
        next_service=result.decided.next_service.with_columns(sites),
        unit_reasons=reasons.with_columns(sites, pl.Series("machine", ["bike 1"] * 4 + [None] * 2)),
    )
    said = listed(twice).next_ride
    assert "See to bike 1 at North (F02) and F05 before it; nothing is due on bike 1 at South and F06." in said


def test_many_machines_are_counted(race_team: PlanResult) -> None:
    rows = service_rows(race_team.decided.next_service, NAMES, as_of=AS_OF)
    many = [
        replace(row, name=f"{row.name}-{copy}", machine=f"bike {copy}" if number else None)
        for copy in range(13)
        for number, row in enumerate(rows[:2])
    ]
    said = next_ride_text(many, {row.name: "due" for row in many}, as_of=AS_OF, until=AS_OF)
    assert "Work is due now on 13 machines (13 units) and 13 more units. " in said


def test_a_machine_with_a_booked_unit_out_of_service_is_not_free(race_team: PlanResult) -> None:
    rides = booked(("F01", 1, 2.0), ("F03", 1, 2.0), ("F04", 1, 2.0))
    result = fleet(race_team, dict.fromkeys(UNITS, 30), bookings=rides)
    rows = service_rows(
        result.decided.next_service, NAMES, as_of=AS_OF, unit_reasons=result.decided.unit_reasons,
        rides=planned_rides(None, rides, AS_OF),
    )  # fmt: skip
    day = AS_OF + timedelta(days=1)
    gone = BookedOutOfService("F09", None, "machine 2", "rear", (day,))
    said = next_ride_text(rows, {}, as_of=AS_OF, until=AS_OF, unkept=(gone,))
    assert "4 units booked. See to machine 2 (F09, not in service) before it; nothing is due on machine 1. " in said
    later = replace(gone, days=(day + timedelta(days=1),))
    assert "nothing is due on" not in next_ride_text(rows, {}, as_of=AS_OF, until=AS_OF, unkept=(later,))


def test_of_a_silent_log_or_of_some_units_only_the_next_ride_is_not_said(race_team: PlanResult) -> None:
    result = fleet(race_team, LATE)
    rows = service_rows(result.decided.next_service, NAMES, as_of=AS_OF)
    silent = replace(freshness(result), question="No drain for 90 days: is the log out of date?")
    for fresh, note in ((silent, ""), (freshness(result), "2 of 3 000 units are shown here.")):
        found = work_list(result, rows, names=NAMES, parts={}, rides=None, fresh=fresh, shown_note=note)
        assert found.next_ride == ""
