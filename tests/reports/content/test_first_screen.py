"""The first screen: the headline, what is due, what degrades faster and why, and whether to trust it."""

from __future__ import annotations

import polars as pl
from invented_report import AS_OF, altered
from matplotlib.figure import Figure

from draincurve.pipeline.deciding import planned_rides
from draincurve.pipeline.deciding.asked_intervals import ShorterInterval
from draincurve.pipeline.plan_result import PlanResult
from draincurve.pipeline.reading.validating.accounting import TableAccount
from draincurve.reports.content.drain_evidence import drain_evidence
from draincurve.reports.content.finding_text import asked_text
from draincurve.reports.content.first_screen import FirstScreen, first_screen
from draincurve.reports.content.fleet_counts import fleet_counts
from draincurve.reports.content.freshness import freshness
from draincurve.reports.content.sections.backtest_section import backtest_section
from draincurve.reports.content.sections.unkept_bookings import booked_out_of_service
from draincurve.reports.content.sections.work_list import work_list
from draincurve.reports.content.service_rows import service_rows
from draincurve.reports.content.settings_rows import assumptions
from draincurve.reports.content.unit_names import UnitNames
from draincurve.schemas.next_service_table import FASTER

NAMES = UnitNames(frozenset())


def screen(result: PlanResult) -> FirstScreen:
    rides = planned_rides(result.described.usage, result.described.bookings, result.as_of)
    rows = service_rows(
        result.decided.next_service, NAMES, as_of=result.as_of, unit_reasons=result.decided.unit_reasons, rides=rides
    )
    fresh, unkept = freshness(result), booked_out_of_service(result, rides)
    backtest = backtest_section(Figure(), result.judged.backtest)
    counts = fleet_counts(result.decided.next_service, result.as_of, inspect_now=result.decided.inspect_now)
    evidence = drain_evidence(result.judged.channels, NAMES)
    return first_screen(
        result,
        rows,
        work=work_list(result, rows, names=NAMES, parts={}, rides=rides, fresh=fresh),
        names=NAMES,
        evidence=evidence,
        backtest=backtest,
        counts=counts,
        fresh=fresh,
        changes=None,
        unkept=unkept,
    )


def due_in(result: PlanResult, days: list[int | None]) -> PlanResult:
    """As many units as days are given, due so many days ahead; None is no date."""
    dates = [None if day is None else AS_OF.fromordinal(AS_OF.toordinal() + day) for day in days]
    table = result.decided.next_service.head(len(days)).with_columns(
        pl.lit(2.0).alias("hours_left"),
        pl.Series("due_on", dates, dtype=pl.Date),
        pl.lit(None, dtype=pl.Date).alias("due_before"),
    )
    return altered(result, next_service=table, inspect_now=result.decided.inspect_now.clear())


def test_headlines(race_team: PlanResult) -> None:
    assert screen(due_in(race_team, [30, 40])).headline == "Nothing is due by Wed 20 May."
    assert screen(due_in(race_team, [5])).headline == "1 unit is due within a week."
    assert screen(due_in(race_team, [0, 5, 7, 8])).headline == "1 unit is due now. 2 more within a week."
    assert (
        screen(due_in(race_team, [None, 30])).headline
        == "No unit is known to be due by Wed 20 May. No date is known for 1 unit."
    )
    assert screen(race_team).headline.startswith("Inspect 2 units now.")


def test_the_headline_says_before_where_a_booked_event_decides(race_team: PlanResult) -> None:
    result = due_in(race_team, [0, 5, 30])
    event = pl.Series("due_before", [None, None, AS_OF.fromordinal(AS_OF.toordinal() + 7)], dtype=pl.Date)
    booked = altered(result, next_service=result.decided.next_service.with_columns(event))
    assert screen(booked).headline == "1 unit is due now. 2 more before Wed 20 May."
    assert screen(result).headline == "1 unit is due now. 1 more within a week."


def test_units_of_unknown_hours_are_counted_apart_from_those_that_are_due(race_team: PlanResult) -> None:
    result = due_in(race_team, [0, 0, 0, 0, 30])
    table = result.decided.next_service.with_columns(
        pl.Series("hours_on_oil", [30.0, None, None, None, 2.0]),
        pl.Series("set_by", ["colour", "debris", None, "oil_age", "colour"], dtype=pl.String),
    )
    found = screen(altered(result, next_service=table))
    assert found.headline == "2 units are due now. 2 more count as due, hours not known.", "oil age needs no hours"
    only = altered(result, next_service=table[1:2])
    assert screen(only).headline == "1 unit counts as due, hours not known."


def test_the_headline_counts_each_unit_once(race_team: PlanResult) -> None:
    signs = race_team.decided.inspect_now.head(2).with_columns(unit_id=pl.Series(["F01", "F03"]))
    result = altered(due_in(race_team, [0, 0, 5, 6, None, 30]), inspect_now=signs)
    assert screen(result).headline == (
        "Inspect 2 units now. 1 more is due now. 1 more within a week. No date is known for 1 other unit."
    )
    elsewhere = signs.with_columns(site=pl.lit("North"))
    assert screen(altered(result, inspect_now=elsewhere)).headline == screen(result).headline


def test_units_to_inspect_are_not_counted_again_among_those_due_later(race_team: PlanResult) -> None:
    signs = race_team.decided.inspect_now.head(2).with_columns(unit_id=pl.Series(["F01", "F12"]))
    result = altered(due_in(race_team, [1] * 12), inspect_now=signs)
    assert screen(result).due_more == "3 more within two weeks.", "of 12 the first 8 are shown, and F12 is above"
    undated = altered(due_in(race_team, [0] * 8 + [None] * 4), inspect_now=signs)
    assert screen(undated).due_more == "3 more without a date."


def booked(*rides: tuple[str, int]) -> pl.DataFrame:
    """Rides of an hour as unit and days ahead."""
    units, days = zip(*rides, strict=True)
    dates = [AS_OF.fromordinal(AS_OF.toordinal() + day) for day in days]
    return pl.DataFrame({"unit_key": units, "date": dates, "hours": [1.0] * len(rides)})


def test_the_headline_and_the_work_list_count_the_same(race_team: PlanResult) -> None:
    """The units of the list are those that the headline counts up to the list's day."""
    signs = race_team.decided.inspect_now.head(2).with_columns(unit_id=pl.Series(["F01", "F09"]))
    parts = pl.DataFrame(
        {"unit_id": ["F08"], "site": [None], "due_on": [AS_OF]}, schema_overrides={"site": pl.String}
    )
    days = [0, 0, 2, 2, 6, None, 30, 30, 30]
    result = altered(due_in(race_team, days), inspect_now=signs, parts=parts, bookings=booked(("F02", 2), ("F05", 2)))
    rides = planned_rides(None, result.described.bookings, AS_OF)
    rows = service_rows(result.decided.next_service, NAMES, as_of=AS_OF, rides=rides)
    work = work_list(result, rows, names=NAMES, parts={}, rides=rides, fresh=freshness(result))
    assert screen(result).headline == (
        "Inspect 2 units now. 1 more is due now. 1 more has parts due now. 2 more before Fri 15 May, 1 more "
        "within a week. No date is known for 1 other unit."
    )
    assert work.title == f"{2 + 1 + 1 + 2 + 1} units up to Fri 15 May"
    assert len(work.lines) == 7
    soon = parts.with_columns(unit_id=pl.lit("F05"))
    assert screen(altered(result, parts=soon)).headline == (
        "Inspect 2 units now. 1 more is due now. 1 more has parts due now. 2 more within a week. "
        "No date is known for 1 other unit."
    ), "a unit with parts due is not counted again where its oil is due"


def test_a_booking_that_cannot_be_kept_is_said(race_team: PlanResult) -> None:
    table = due_in(race_team, [30, 30])
    units = pl.DataFrame(
        {"unit_key": ["F02", "N1"], "site": [None, "shed"], "machine": ["bike 1", None], "position": ["rear", None],
         "in_service": [False, False]},
        schema_overrides={"site": pl.String},
    )  # fmt: skip
    left = altered(
        table,
        next_service=table.decided.next_service.head(1),
        units=units,
        bookings=booked(("F01", 1), ("N1", 4), ("F02", 3), ("F02", 5), ("unknown", 1)),
    )
    assert screen(left).unkept == (
        "Booked but not in service: F02 (bike 1, rear), Sat 16 May; N1, Sun 17 May. "
        "Put them into service or change the bookings."
    )
    one = altered(left, bookings=booked(("F01", 1), ("N1", 4)))
    assert screen(one).unkept == (
        "Booked but not in service: N1, Sun 17 May. Put it into service or change the booking."
    )
    assert screen(table).unkept == ""
    at_shed = altered(left, notes={"site": "shed"}, drains=left.described.drains.clear())
    assert screen(at_shed).unkept == screen(one).unkept, "a site's report has no bookings of other sites"
    in_service = altered(at_shed, units=units.with_columns(in_service=pl.lit(value=True)))
    assert screen(in_service).unkept == "", "a unit that the register has in service is another site's"


def test_due_list_shows_the_next_even_when_nothing_is_soon(race_team: PlanResult) -> None:
    found = screen(due_in(race_team, [30, 40, 50, 60]))
    assert len(found.due) == 3
    assert found.due_more == ""


def test_due_list_is_cut_and_says_how_many_more(race_team: PlanResult) -> None:
    found = screen(due_in(race_team, [1] * 12))
    assert (len(found.due), found.due_more) == (8, "4 more within two weeks.")
    assert screen(due_in(race_team, [0] * 8 + [None] * 3)).due_more == "3 more without a date."
    both = screen(due_in(race_team, [0] * 7 + [None] * 3 + [5, 6]))
    assert both.due_more == "2 more within two weeks and 2 more without a date."


def test_faster_units_come_worst_first_with_counts_of_their_drains(race_team: PlanResult) -> None:
    table = race_team.decided.next_service.with_columns(
        pl.when(pl.col("unit_id").is_in(["F03", "F06"])).then(pl.lit(FASTER)).otherwise("standing").alias("standing")
    )
    found = screen(altered(race_team, next_service=table))
    assert [line.row.name for line in found.faster] == ["F03", "F06"]
    assert " of 9 drains (mean" in found.faster[0].evidence
    assert "in the rest of the fleet at" in found.faster[0].evidence


def test_each_reason_not_to_trust_the_answer_is_given_once(race_team: PlanResult, quiet_team: PlanResult) -> None:
    said = {line.subject: line for line in screen(race_team).trust}
    assert said["Rows"].warning
    assert said["Rows"].text.startswith("5 of 185 rows of drains held back")
    assert not said["Colour"].warning
    assert said["Debris"].text.count("rough") == 1
    assert "cannot tell hours apart" in said["Debris"].text
    assert said["Note"].text == "Every rating in the log is 1: ask whether anyone looks."
    assert not any(line.warning for line in screen(quiet_team).trust if line.subject != "Hours")


def test_a_unit_to_inspect_that_is_not_in_service_is_still_named(race_team: PlanResult) -> None:
    table = race_team.decided.next_service.filter(pl.col("unit_id") != "F02")
    lines = screen(altered(race_team, next_service=table)).inspect
    assert [(line.name, line.in_service) for line in lines] == [("F02", False), ("F10", True)]


def test_why_costs_set_nothing_is_said_once_among_what_the_answer_rests_on(race_team: PlanResult) -> None:
    why = "no interval is cheapest: a late change costs too little against a change on time"
    reasons = race_team.decided.unit_reasons.with_columns(pl.lit(why).alias("cost_why"))
    assert f"N{why[1:]} (16 of 16 units)." in assumptions(race_team.settings, reasons)
    assert "Costs" not in {line.subject for line in screen(altered(race_team, unit_reasons=reasons)).trust}


def test_an_interval_below_every_rated_fill_is_called_so(race_team: PlanResult) -> None:
    table = race_team.decided.next_service.with_columns(
        pl.when(pl.col("unit_id") == "F03").then(1.5).otherwise("interval_h").alias("interval_h")
    )
    said = {one.subject: one for one in screen(altered(race_team, next_service=table)).trust}
    assert said["Short intervals"].text.startswith("The interval of F03 is shorter than any fill rated so far (3.")
    assert "Short intervals" not in {one.subject for one in screen(race_team).trust}


def test_a_unit_that_is_due_says_that_it_must_be_inspected_first(race_team: PlanResult) -> None:
    found = {line.row.name: line.inspect for line in screen(race_team).due}
    assert found["F02"] == "milky, leak"
    assert found["F05"] == ""


def test_intervals_that_a_question_shortens_lead_to_the_questions(race_team: PlanResult) -> None:
    questions = ("whether Braks is Brask",)
    units = tuple(ShorterInterval(name, 3.5, 4.0, questions) for name in ("F01", "F02"))
    shorter = altered(race_team, shortened=units)
    result = altered(shorter, warnings=shorter.decided.warnings)
    (line,) = (one for one in screen(result).trust if "2 intervals are shorter" in one.text)
    assert line.link == "remarks-asked"


def test_measured_values_are_no_rows(quiet_team: PlanResult) -> None:
    measured = TableAccount("measurements", "lab.csv", "", 750, 750, 0)
    (line,) = (
        one
        for one in screen(altered(quiet_team, accounts=(*quiet_team.log.accounts, measured))).trust
        if one.subject == "Rows"
    )
    assert line.text == "All 225 rows and 750 measured values of the log and its other tables were accepted."


def test_no_chance_from_draws_is_certain(race_team: PlanResult) -> None:
    table = race_team.decided.next_service.with_columns(pl.lit(1.0).alias("p_faster"))
    assert all(line.evidence.endswith(": >99 %.") for line in screen(altered(race_team, next_service=table)).faster)


def test_columns_are_named_in_words_and_questions_are_as_many_as_their_lines(race_team: PlanResult) -> None:
    (asked,) = (line for line in screen(race_team).trust if line.subject == "Asked about")
    assert asked.text == "2 questions to whoever wrote the log (on 2 rows):"
    assert len(asked.details) == 2
    twice = race_team.log.remarks.with_columns(line=pl.lit(22))
    assert asked_text(altered(race_team, remarks=twice).log) == "2 questions to whoever wrote the log (on 1 row)"
    of_all = pl.when(pl.col("line") == 40).then(None).otherwise("line").alias("line")
    mixed = altered(race_team, remarks=race_team.log.remarks.with_columns(of_all))
    assert asked_text(mixed.log) == "2 questions to whoever wrote the log (1 on 1 row, 1 on the whole log)"
    whole = altered(race_team, remarks=race_team.log.remarks.with_columns(line=pl.lit(None, pl.Int64)))
    assert asked_text(whole.log) == "2 questions to whoever wrote the log (on the whole log)"
    assert any("oil hours = 61.0" in detail for detail in asked.details)
    assert not any("oil_hours" in detail or "unit_id" in detail for detail in asked.details)
