"""Wear and parts in the ledger: what is entered comes back night by night, and an older ledger gets their tables."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

from facts_at_hand import DAY, facts

from draincurve.nightly.history_lines import parts_lines, wear_lines
from draincurve.nightly.ledger import GoodRun, begin_run, open_ledger, record_good_run, transaction
from draincurve.nightly.ledger_schema import APPLICATION, MIGRATIONS
from draincurve.nightly.night_clock import Moment
from draincurve.nightly.wear_and_parts import PartFacts, WearAndParts, WearFacts, parts_history, wear_history

AT = datetime(2026, 6, 20, 3, 30, tzinfo=timezone(timedelta(hours=2)))
IRON = WearFacts("F01", "North", "Iron in the oil", "mg/kg", "oil", "over 60 mg/kg", 3.0, "under", date(2026, 6, 1),
                 False, 0.0, 31.2, 40.5, None, 22.0)  # fmt: skip
SPRING = PartFacts("F01", "North", "spring", 310.0, 90.0, "maker's hours", date(2026, 8, 1), date(2026, 7, 20),
                   date(2026, 8, 19), None, date(2026, 7, 28))  # fmt: skip


def enter(ledger, digest: str, *, measured: WearAndParts, as_of: date = DAY) -> None:
    run_id = begin_run(ledger, Moment(AT, "CET/CEST", as_of))
    with transaction(ledger):
        good = GoodRun(digest, "2026-06-20_0001", 0, facts(as_of=as_of), {}, (), measured)
        record_good_run(ledger, run_id, ended=AT, day=as_of, night=good)


def test_a_units_wear_and_parts_come_back_night_by_night(tmp_path: Path) -> None:
    worn = replace(IRON, last_value=64.0, last_bound=None, past_limit=True, meets_h=None, allowed_h=0.0)
    overdue = replace(SPRING, hours_left=-2.0, due_on=DAY, visit_on=DAY)
    other = replace(IRON, unit_id="F02"), replace(SPRING, unit_id="F02")
    with open_ledger(tmp_path / "ledger.sqlite") as ledger:
        first = WearAndParts((IRON, other[0]), (SPRING, other[1]))
        enter(ledger, "d1", measured=first, as_of=DAY - timedelta(1))
        enter(ledger, "d1", measured=first, as_of=DAY - timedelta(1))
        enter(ledger, "d2", measured=WearAndParts((worn,), (overdue,)))
        enter(ledger, "d3", measured=WearAndParts(), as_of=DAY + timedelta(1))
        wear, parts = wear_history(ledger, "F01"), parts_history(ledger, "F01")
    assert [(point.as_of, point.wear) for point in wear] == [(DAY - timedelta(1), IRON), (DAY, worn)]
    assert [(point.as_of, point.part) for point in parts] == [(DAY - timedelta(1), SPRING), (DAY, overdue)]
    said = [" ".join(line.split()) for line in (*wear_lines(wear), *parts_lines(parts))]
    assert said[2] == (
        "2026-06-19 North Iron in the oil <3 mg/kg over 60 mg/kg oil 0.0 40.5 31.2 to beyond readings 22.0"
    )
    assert "64 mg/kg, past the limit" in said[3]
    assert said[4].startswith("hours allowed: ")
    assert said[7].endswith("spring 310.0 90.0 maker's hours 2026-08-01 2026-07-20 to 2026-08-19 2026-07-28")
    assert "due now" in said[8]
    booked = [replace(point, part=replace(point.part, due_on_early=DAY, due_on_late=DAY)) for point in parts]
    assert f"{DAY} to {DAY}" not in "".join(parts_lines(booked)), "one day is no range"


def test_nothing_measured_is_no_table() -> None:
    assert wear_lines([]) == parts_lines([]) == []


def test_a_ledger_from_before_gets_the_tables_and_keeps_its_rows(tmp_path: Path) -> None:
    old = sqlite3.connect(tmp_path / "ledger.sqlite", isolation_level=None)
    for script in MIGRATIONS[:2]:
        old.executescript(script)
    old.execute("INSERT INTO runs (started, zone, clock_day, status) VALUES ('2026-06-01T03:30:00', 'UTC', "
                "'2026-06-01', 'failed')")  # fmt: skip
    old.execute(f"PRAGMA application_id = {APPLICATION}")
    old.execute("PRAGMA user_version = 2")
    old.close()
    with open_ledger(tmp_path / "ledger.sqlite") as ledger:
        enter(ledger, "d1", measured=WearAndParts((IRON,), (SPRING,)))
        assert ledger.execute("SELECT count(*) FROM runs").fetchone() == (2,)
        assert wear_history(ledger, "F01")[0].wear == IRON
