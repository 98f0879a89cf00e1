"""service.ics: one event a unit, the same one at every import, never later than it may be, and valid RFC 5545."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import polars as pl
import pytest
from calendar_reader import day, events, text, unfolded
from hypothesis import given, settings
from hypothesis import strategies as st
from icalendar import Calendar
from invented_report import AS_OF, FleetShape, altered, build_report

from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.service_rows import service_rows
from draincurve.reports.content.trade_words import CAUTIONS
from draincurve.reports.content.unit_names import unit_names
from draincurve.reports.mail_and_calendar.service_calendar import one_line, service_calendar

_TEAM = build_report(FleetShape(quiet=True))
SMALL = altered(_TEAM, next_service=_TEAM.decided.next_service.head(4))


INSPECT = ": Inspect now: "


def confirmed(result: PlanResult) -> list[dict[str, str]]:
    return [event for event in events(service_calendar(result)) if event["STATUS"] == "CONFIRMED"]


def of_units(result: PlanResult) -> dict[str, dict[str, str]]:
    """Events of units by their summary's name."""
    read = [event for event in confirmed(result) if INSPECT not in text(event["SUMMARY"])]
    parts = [(text(event["SUMMARY"]).partition(": Inspect")[0].partition(": Change")[0], event) for event in read]
    return {name: event for name, event in parts if name != text(event["SUMMARY"])}


def inspections(result: PlanResult) -> dict[str, dict[str, str]]:
    """Events that are nothing but an inspection, by the unit's name."""
    read = [(text(event["SUMMARY"]).partition(INSPECT), event) for event in confirmed(result)]
    return {name: event for (name, found, _), event in read if found}


def with_names(result: PlanResult, names: list[str]) -> PlanResult:
    """The first units under other names."""
    ids = result.decided.next_service["unit_id"].to_list()
    other = dict(zip(ids, names, strict=False))

    def renamed(table: pl.DataFrame) -> pl.DataFrame:
        return table.with_columns(pl.col("unit_id").replace(other))

    return altered(
        result,
        next_service=renamed(result.decided.next_service),
        unit_reasons=renamed(result.decided.unit_reasons),
        inspect_now=result.decided.inspect_now.clear(),
    )


def test_every_unit_with_a_date_has_one_event_on_the_day_to_act(race_team: PlanResult) -> None:
    found = of_units(race_team)
    rows = service_rows(race_team.decided.next_service, unit_names(race_team), as_of=AS_OF)
    assert set(found) == {row.name for row in rows if row.act_by is not None or row.due_now}
    for row in rows:
        if row.name in found:
            begin = day(found[row.name]["DTSTART"])
            booked = row.act_by is not None and row.act_by == row.booked_on
            last_day = row.act_by and row.act_by - timedelta(days=booked)
            assert begin == (AS_OF if row.due_now else last_day)
            assert begin >= AS_OF
            assert row.due_on is None or begin <= row.due_on
            assert row.booked_on is None or begin <= row.booked_on
            assert day(found[row.name]["DTEND"]) == begin + timedelta(days=1)


def test_what_is_due_already_is_on_the_day_of_the_report_and_says_so(race_team: PlanResult) -> None:
    event = of_units(race_team)["F05"]
    assert day(event["DTSTART"]) == AS_OF
    assert text(event["SUMMARY"]) == "F05: Change the oil now"
    assert "1.5 h over" in text(event["DESCRIPTION"])


def test_the_description_names_interval_range_cause_and_cautions(race_team: PlanResult) -> None:
    event = of_units(race_team)["F03"]
    said = text(event["DESCRIPTION"])
    assert "Interval 7.0 h (5.6 to 9.8 h), set by debris. 3.0 h on the oil, 4.0 h left." in said
    assert "Change the oil at 7.0 h or by Wed 27 May, whichever comes first." in said
    assert "Expected 24 May to 4 Jun (80 % range)." in said
    assert "Debris reaches the accepted risk of 10 % first" in said
    assert set(CAUTIONS[:4]) <= set(said.split("\n"))
    assert text(event["LOCATION"]) == "machine 2, left"


def test_before_an_event_means_before_its_riding(race_team: PlanResult) -> None:
    event = of_units(race_team)["F15"]
    assert text(event["SUMMARY"]) == "F15: Change the oil before Sat 23 May"
    assert day(event["DTSTART"]) == date(2026, 5, 22)
    assert "h or before Sat 23 May, whichever comes first" in text(event["DESCRIPTION"])


def test_a_range_beside_an_interval_that_wear_sets_is_the_oils(race_team: PlanResult) -> None:
    worn = pl.when(pl.col("unit_id") == "F03").then(pl.lit("wear")).otherwise("set_by").alias("set_by")
    table = race_team.decided.next_service.with_columns(worn, pl.lit(5.0).alias("interval_h"))
    said = text(of_units(altered(race_team, next_service=table))["F03"]["DESCRIPTION"])
    assert "Interval 5.0 h (oil alone 5.6 to 9.8 h), set by wear." in said


def test_a_unit_to_inspect_has_its_event_on_the_day_of_the_report(race_team: PlanResult) -> None:
    found = inspections(race_team)
    assert {name: text(event["SUMMARY"]) for name, event in found.items()} == {
        "F02": "F02: Inspect now: milky, leak",
        "F10": "F10: Inspect now: burnt",
    }
    services = of_units(race_team)
    for name, event in found.items():
        assert day(event["DTSTART"]) == AS_OF < day(services[name]["DTSTART"])
        assert event["UID"] != services[name]["UID"]
    said = text(found["F02"]["DESCRIPTION"])
    assert said.startswith("Inspect now, before any ride: milky, leak, seen 22 Apr.\nOil, if it is changed: ")
    assert set(CAUTIONS[:4]) <= set(said.split("\n"))
    assert text(found["F02"]["LOCATION"]) == "machine 1, right"
    tomorrow = inspections(altered(race_team, as_of=AS_OF + timedelta(days=1)))
    assert tomorrow["F02"]["UID"] == found["F02"]["UID"], "the next report moves it"


def test_a_unit_to_inspect_that_is_not_in_service_has_an_event_too(race_team: PlanResult) -> None:
    signs = race_team.decided.inspect_now.head(1).with_columns(unit_id=pl.lit("N1"), site=pl.lit("shed"))
    found = inspections(altered(race_team, inspect_now=signs))
    assert (list(found), text(found["N1"]["LOCATION"])) == (["N1"], "shed")
    assert "Oil" not in text(found["N1"]["DESCRIPTION"])


def test_of_very_many_units_to_inspect_some_share_an_event(race_team: PlanResult) -> None:
    processing = replace(race_team.described.processing, inspected_units=1)
    result = altered(race_team, processing=processing)
    assert list(inspections(result)) == ["F02"]
    first = events(service_calendar(result))[0]
    assert text(first["SUMMARY"]) == "Inspect 1 more unit now, 3 units without a date"
    assert "Inspect now, too: F10 (burnt)." in text(first["DESCRIPTION"])


def test_a_second_change_within_the_week_is_said_with_the_first(race_team: PlanResult) -> None:
    days = [AS_OF + timedelta(days=ahead) for ahead in (1, 4, 9)]
    rides = pl.DataFrame({"unit_key": ["F05"] * 3, "date": days, "hours": [race_team.decided.next_service.filter(
        pl.col("unit_id") == "F05")["interval_h"].item()] * 3})  # fmt: skip
    event = of_units(altered(race_team, bookings=rides))["F05"]
    assert text(event["SUMMARY"]) == "F05: Change the oil now, and again before Sun 17 May"
    assert "Change it again before Sun 17 May, if it is ridden as booked." in text(event["DESCRIPTION"])


def test_units_without_a_date_are_on_the_day_of_the_report(race_team: PlanResult) -> None:
    first = events(service_calendar(race_team))[0]
    assert day(first["DTSTART"]) == AS_OF
    assert text(first["SUMMARY"]) == "3 units without a date"
    said = text(first["DESCRIPTION"])
    assert "No date is known for F12, F14 and F07. Unknown is never safe: treat as due." in said
    quiet = altered(
        race_team,
        inspect_now=race_team.decided.inspect_now.clear(),
        next_service=race_team.decided.next_service.filter(pl.col("due_on").is_not_null()),
    )
    assert len(events(service_calendar(quiet))) == race_team.decided.next_service.height
    assert len(of_units(quiet)) == quiet.decided.next_service.height


def test_a_later_run_moves_the_same_event(race_team: PlanResult) -> None:
    """Source: RFC 5545, 3.8.4.7 (UID persistent and unique), 3.8.7.4 (SEQUENCE rises), 3.8.7.2 (DTSTAMP)."""
    later = altered(
        race_team,
        as_of=AS_OF + timedelta(days=1),
        next_service=race_team.decided.next_service.with_columns(
            pl.col("due_on", "due_on_late", "due_before").dt.offset_by("9d")
        ),
    )
    before, after = of_units(race_team), of_units(later)
    assert set(before) == set(after)
    assert len({event["UID"] for event in before.values()}) == len(before)
    moved = 0
    for name, event in before.items():
        assert event["UID"] == after[name]["UID"]
        assert int(after[name]["SEQUENCE"]) == int(event["SEQUENCE"]) + 1
        assert after[name]["DTSTAMP"] == "20260514T000000Z" > event["DTSTAMP"]
        moved += after[name]["DTSTART"] != event["DTSTART"]
    assert moved > 5


def test_the_event_belongs_to_the_unit_however_its_name_is_spelt(race_team: PlanResult) -> None:
    first = race_team.decided.next_service.item(0, "unit_id")
    respelt = with_names(race_team, [f" {first[0].lower()}-{first[1:]}"])
    one = {event["UID"] for event in of_units(race_team).values()}
    assert {event["UID"] for event in of_units(respelt).values()} == one


def test_an_event_says_what_to_do_with_which_oil_and_how_much(race_team: PlanResult) -> None:
    found = of_units(race_team)
    units = pl.DataFrame(
        {"unit_key": ["F05"], "unit_id": ["F05"], "site": [None], "fill_ml": [520.0], "in_service": [True]},
        schema_overrides={"site": pl.String},
    )
    known = text(of_units(altered(race_team, units=units))["F05"]["DESCRIPTION"])
    assert known.startswith("Oil: Grade 5 clear, 520 ml")
    assert "Oil: Grade 5 clear, amount not known: see the maker's manual." in text(found["F05"]["DESCRIPTION"])


def test_a_sign_is_for_the_day_of_the_report_whatever_day_the_oil_has(race_team: PlanResult) -> None:
    found = of_units(race_team)["F02"]
    assert text(found["SUMMARY"]).startswith("F02: Change the oil before ")
    assert day(found["DTSTART"]) > AS_OF
    assert text(found["DESCRIPTION"]).startswith("Inspect now, before any ride: milky, leak.\n")
    now = race_team.decided.next_service.with_columns(pl.lit(AS_OF).alias("due_on"))
    today = of_units(altered(race_team, next_service=now))["F02"]
    assert "F02" not in inspections(altered(race_team, next_service=now)), "one event for both"
    assert text(today["SUMMARY"]) == "F02: Inspect: milky, leak; then change the oil"
    assert day(today["DTSTART"]) == AS_OF


def test_the_event_of_a_unit_that_left_service_is_cancelled(race_team: PlanResult) -> None:
    """Source: RFC 5545, 3.8.1.11 (STATUS); RFC 5546, 2.1.4 (same UID, higher SEQUENCE)."""
    before = of_units(race_team)["F03"]
    left = altered(
        race_team,
        as_of=AS_OF + timedelta(days=1),
        next_service=race_team.decided.next_service.filter(pl.col("unit_id") != "F03"),
    )
    assert "F03" not in of_units(left)
    (after,) = (event for event in events(service_calendar(left)) if event["STATUS"] == "CANCELLED")
    assert after["UID"] == before["UID"]
    assert int(after["SEQUENCE"]) > int(before["SEQUENCE"])
    assert text(after["SUMMARY"]) == "F03: not in service, no date"
    vobject = pytest.importorskip("vobject")
    read = vobject.readOne(service_calendar(left).decode("utf-8")).vevent_list
    assert [event.uid.value for event in read if event.status.value == "CANCELLED"] == [before["UID"]]
    own = [one for one in Calendar.from_ical(service_calendar(left)).walk("VEVENT") if one["STATUS"] == "CANCELLED"]
    assert [str(one["UID"]) for one in own] == [before["UID"]]


def test_a_unit_of_the_register_alone_is_cancelled_and_one_of_long_ago_left_out(
    race_team: PlanResult,
) -> None:
    units = pl.DataFrame(
        {"unit_key": ["N1"], "unit_id": ["N1"], "site": [None], "fill_ml": [None], "in_service": [False]},
        schema_overrides={"site": pl.String, "fill_ml": pl.Float64},
    )
    old = race_team.described.drains.head(1).with_columns(
        pl.lit("OLD").alias("unit_id"), pl.lit("OLD").alias("unit_key"), pl.lit(date(2023, 1, 1)).alias("drained_on")
    )
    result = altered(race_team, units=units, drains=pl.concat([race_team.described.drains, old]))
    cancelled = [event for event in events(service_calendar(result)) if event["STATUS"] == "CANCELLED"]
    assert [text(event["SUMMARY"]).split(":")[0] for event in cancelled] == ["N1"]


def test_units_of_one_name_in_two_shops_have_their_own_events(race_team: PlanResult) -> None:
    """By the log's name, or by the shop of the settings, which also survives another name of the log."""

    def identities(**fields) -> set[str]:
        return {event["UID"] for event in events(service_calendar(altered(race_team, **fields)))}

    here, there = identities(name="north/drains.csv"), identities(name="south/drains.csv")
    assert not here & there
    shop = replace(race_team.settings, shop="North")
    assert identities(settings=shop, name="a.csv") == identities(settings=shop, name="b.csv")
    assert not identities(settings=shop) & identities(settings=replace(shop, shop="South"))
    site = {"whole_log_name": "north/drains.csv", "site": "paddock"}
    own = len(of_units(race_team)) + len(inspections(race_team))
    assert len(identities(name="north/drains.csv, paddock", notes=site) & here) == own


def test_units_of_one_id_at_two_sites_have_their_own_events(race_team: PlanResult) -> None:
    twice = race_team.decided.next_service.head(1)
    both = pl.concat([twice.with_columns(site=pl.lit("north")), twice.with_columns(site=pl.lit("south"))])
    reasons = pl.concat(
        [race_team.decided.unit_reasons.head(1).with_columns(site=pl.lit(site)) for site in ("north", "south")]
    )
    found = of_units(altered(race_team, next_service=both, unit_reasons=reasons))
    assert set(found) == {"F01 @ north", "F01 @ south"}
    assert len({event["UID"] for event in found.values()}) == 2


HOSTILE = (
    "F1\r\nATTACH:http://x.invalid", "F2\nEND:VEVENT", "a;b,c\\d:e", "\\n", "ش-٠٧ أمامي", "F\u202e07", "🏁" * 64,
    "é" * 64, "F" * 64, "\x00\x07\x1b", '"quoted"', " ", "=1+1", "\u2066open",
)  # fmt: skip


def test_hostile_names_stay_text_inside_their_event(race_team: PlanResult) -> None:
    content = service_calendar(with_names(race_team, list(HOSTILE)))
    read = events(content)
    assert {name for event in read for name in event} == {
        "UID", "DTSTAMP", "LAST-MODIFIED", "SEQUENCE", "DTSTART", "DTEND", "SUMMARY", "DESCRIPTION", "LOCATION",
        "STATUS", "TRANSP",
    }  # fmt: skip
    summaries = [text(event["SUMMARY"]) for event in read]
    assert any(one.startswith("F1 ATTACH:http://x.invalid: Change the oil b") for one in summaries)
    assert "\u2068ش-٠٧ أمامي\u2069: Change the oil now" in summaries
    assert not any(summary.startswith(":") for summary in summaries)
    assert any(summary.startswith("é" * 64 + ":") for summary in summaries)
    assert not any("\u202e" in line for line in unfolded(content))
    assert b"PRODID:-//draincurve//service calendar//EN\r\nVERSION:2.0\r\n" in content


@settings(max_examples=40, deadline=None)
@given(st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=64))
def test_any_name_gives_a_readable_calendar(name: str) -> None:
    result = with_names(SMALL, [name])
    read = events(service_calendar(result))
    assert len(read) >= 3
    for event in read:
        text(event["DESCRIPTION"])
        # icalendar takes a backslash and a capital N for a line break, which the format allows in a summary
        assert "\n" not in text(event["SUMMARY"]) or "\\N" in name


def test_marks_that_turn_the_text_are_taken_out_and_names_from_the_right_set_apart() -> None:
    """Source: Unicode Standard Annex 9: isolates (FSI, PDI) keep a run's direction from its surroundings."""
    assert one_line("F\u202e07\u2066") == "F07"
    assert one_line("ש7") == "\u2068ש7\u2069"
    assert one_line("F07 front") == "F07 front"
    assert one_line(" a\t\r\nb\u2028c ") == "a b c"
    assert one_line("\x07") == "unit without a name"


def test_its_own_library_reads_the_same_back(hostile_team: PlanResult) -> None:
    content = service_calendar(hostile_team)
    read = list(Calendar.from_ical(content).walk("VEVENT"))
    plain = events(content)
    assert [str(event["UID"]) for event in read] == [event["UID"] for event in plain]
    assert [event.decoded("dtstart") for event in read] == [day(event["DTSTART"]) for event in plain]
    assert isinstance(read[0].decoded("dtstart"), date)


def test_another_library_reads_the_same(hostile_team: PlanResult) -> None:
    vobject = pytest.importorskip("vobject")
    content = service_calendar(hostile_team)
    read = vobject.readOne(content.decode("utf-8")).vevent_list
    plain = events(content)
    assert len(read) == len(plain) > 10
    for event, raw in zip(read, plain, strict=True):
        assert event.uid.value == raw["UID"]
        assert event.dtstart.value == day(raw["DTSTART"])
        assert event.summary.value == text(raw["SUMMARY"])
        assert event.description.value == text(raw["DESCRIPTION"])


def test_the_same_result_gives_the_same_bytes(hostile_team: PlanResult) -> None:
    assert service_calendar(hostile_team) == service_calendar(hostile_team)


def test_a_long_list_of_names_is_cut_and_counted(race_team: PlanResult) -> None:
    many = build_report(FleetShape(units=60, drains=200))
    undated = altered(
        many,
        next_service=many.decided.next_service.with_columns(
            due_on=pl.lit(None, pl.Date),
            due_on_early=pl.lit(None, pl.Date),
            due_on_late=pl.lit(None, pl.Date),
            due_before=pl.lit(None, pl.Date),
        ),
    )
    said = text(events(service_calendar(undated))[0]["DESCRIPTION"])
    assert "and 39 more. Unknown is never safe" in said
