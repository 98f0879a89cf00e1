"""The ledger: what is entered comes back, half a night is no night, foreign and newer files are refused."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

import pytest
from facts_at_hand import DAY, facts, held, unit

from draincurve.nightly.history_lines import UnknownUnitError, trend_lines, unit_history_lines
from draincurve.nightly.ledger import (
    GoodRun,
    LedgerError,
    RunStatus,
    begin_run,
    end_run,
    open_ledger,
    record_good_run,
    transaction,
)
from draincurve.nightly.ledger_queries import (
    facts_before,
    facts_of_run,
    interval_trends,
    last_good_run,
    unit_history,
    unit_names_known,
)
from draincurve.nightly.ledger_schema import MIGRATIONS
from draincurve.nightly.night_clock import Moment
from draincurve.reports.content.report_changes import UnitName

AT = datetime(2026, 6, 20, 3, 30, tzinfo=timezone(timedelta(hours=2)))
MOMENT = Moment(AT, "CET/CEST", DAY)
FULL = facts(
    unit("F01"),
    unit("../F02", site=None, interval_h=None, turned=None, due_on=None, set_by=None, hours_ratio=None),
    unit("F\x0003", standing="faster than the fleet", turned=True, due_before=date(2026, 7, 1)),
    held_back=(held(7, {"unit_id": "F01", "note": 'it\'s "so"; DROP TABLE runs'}), held(9, {})),
    signs={UnitName("F01", "North"): "milky, leak"},
    settings={"caps.max_interval_h": None, "accepted_risk": 0.1},
)


def enter(ledger, digest: str, entered=FULL, folder: str = "2026-06-20_0001", status: int = 3) -> int:
    run_id = begin_run(ledger, MOMENT)
    with transaction(ledger):
        good = GoodRun(digest, folder, status, entered, {"reading": 0.1}, ("a warning",))
        record_good_run(ledger, run_id, ended=AT, day=DAY, night=good)
    return run_id


def fill(ledger, entered) -> None:
    pages = ledger.execute("PRAGMA page_count").fetchone()[0]
    ledger.execute(f"PRAGMA max_page_count = {pages + 4}")
    enter(ledger, "too much", entered)


@pytest.fixture
def ledger(tmp_path: Path):
    with open_ledger(tmp_path / "ledger.sqlite") as opened:
        yield opened


def test_a_report_comes_back_as_it_was_entered(ledger) -> None:
    run_id = enter(ledger, "d1")
    assert facts_of_run(ledger, run_id) == FULL


def test_the_last_good_night_is_known_with_its_moment(ledger) -> None:
    assert last_good_run(ledger) is None
    run_id = enter(ledger, "d1")
    last = last_good_run(ledger)
    assert (last.run_id, last.digest, last.exit_status, last.moment) == (run_id, "d1", 3, MOMENT)


def test_the_end_of_a_run_does_not_take_a_report_back(ledger) -> None:
    run_id = enter(ledger, "d1")
    end_run(ledger, run_id, status=RunStatus.STOPPED, ended=AT, as_of=None, message="stopped by SIGTERM")
    assert last_good_run(ledger).run_id == run_id


def test_a_forced_run_is_held_against_the_report_before_it_not_against_itself(ledger) -> None:
    enter(ledger, "d1", facts(unit("OLD")))
    enter(ledger, "d2")
    enter(ledger, "d2")
    assert facts_before(ledger, "d2").units[0].unit_id == "OLD"
    assert facts_before(ledger, "d3") == FULL


def test_a_run_that_never_ended_is_marked_by_the_next(ledger) -> None:
    begin_run(ledger, MOMENT)
    failed = begin_run(ledger, MOMENT)
    end_run(ledger, failed, status=RunStatus.FAILED, ended=AT, as_of=None, message="source missing")
    begin_run(ledger, MOMENT)
    assert [row[0] for row in ledger.execute("SELECT status FROM runs")] == ["interrupted", "failed", "running"]
    assert last_good_run(ledger) is None


def test_a_transaction_that_fails_leaves_nothing(ledger) -> None:
    run_id = begin_run(ledger, MOMENT)
    wrong = replace(FULL, held_back=(*FULL.held_back, ("drains", replace(FULL.held_back[0][1], line="seven"))))
    with pytest.raises(sqlite3.IntegrityError), transaction(ledger):
        record_good_run(ledger, run_id, ended=AT, day=DAY, night=GoodRun("d", "f", 0, wrong, {}, ()))
    assert last_good_run(ledger) is None
    assert unit_names_known(ledger) == []


def test_rows_held_back_are_kept_for_two_digests_only(ledger) -> None:
    for digest in ("d1", "d2", "d2", "d3"):
        enter(ledger, digest)
    assert [row[0] for row in ledger.execute("SELECT DISTINCT run_id FROM held_back ORDER BY 1")] == [3, 4]


def test_a_course_has_one_row_for_each_report_and_says_what_is_not_known(ledger) -> None:
    enter(ledger, "d1", facts(unit(interval_h=12.0), as_of=date(2026, 6, 19)))
    enter(ledger, "d1", facts(unit(interval_h=12.0), as_of=date(2026, 6, 19)))
    late = unit(interval_h=10.5, hours_left=-1.0, set_by="oil_age", turned=True)
    enter(ledger, "d2", facts(late, unit("F02", interval_h=None, interval_low_h=None, set_by=None, due_on=None)))
    lines = unit_history_lines("F01", unit_history(ledger, "F01"), known=unit_names_known(ledger))
    assert len(lines) == 3
    assert lines[0].split()[:6] == ["as", "of", "site", "inspect", "oil", "due"]
    assert " ".join(lines[1].split()) == "2026-06-19 North - 2026-07-20 12.0 9.1 to 16.3 colour with the fleet 4.0"
    assert (
        " ".join(lines[2].split()) == "2026-06-20 North - due now 10.5 9.1 to 16.3 oil age with the fleet, turned 4.0"
    )
    other = unit_history_lines("F02", unit_history(ledger, "F02"), known=[])
    assert " ".join(other[1].split()) == "2026-06-20 North - no date known - - - with the fleet 4.0"


def test_a_course_says_in_which_report_a_unit_was_to_be_inspected(ledger) -> None:
    """A sign belongs to its report and to the unit of its site."""
    here, there = UnitName("F01", "North"), UnitName("F01", "South")
    enter(ledger, "d1", facts(unit("F01"), unit("F01", site="South"), signs={there: "milky"}))
    enter(ledger, "d2", facts(unit("F01"), unit("F01", site="South"), signs={here: "leak, flakes"}))
    enter(ledger, "d3", facts(unit("F01"), unit("F01", site="South")))
    points = unit_history(ledger, "F01")
    assert [(point.unit.site, point.signs) for point in points] == [
        ("North", ""), ("North", "leak, flakes"), ("North", ""), ("South", "milky"), ("South", ""), ("South", ""),
    ]  # fmt: skip
    assert unit_history_lines("F01", points, known=[])[2].split()[2:4] == ["leak,", "flakes"]


def test_an_unknown_unit_is_answered_with_near_names(ledger) -> None:
    enter(ledger, "d1", facts(unit("Fork-12"), unit("Shock-3")))
    with pytest.raises(UnknownUnitError, match="did you mean Fork-12"):
        unit_history_lines("fork12", unit_history(ledger, "fork12"), known=unit_names_known(ledger))
    with pytest.raises(UnknownUnitError, match="knows 2 units"):
        unit_history_lines("zzz", [], known=unit_names_known(ledger))


def test_trends_are_of_the_units_of_the_last_report(ledger) -> None:
    for number, hours in enumerate((12.0, 9.0, 10.5)):
        enter(ledger, f"d{number}", facts(unit(interval_h=hours), as_of=DAY + timedelta(number)))
    assert (trend := interval_trends(ledger)[0]).difference_h == -1.5
    assert (trend.reports, trend.shortest_h, trend.longest_h, trend.last_on) == (3, 9.0, 12.0, DAY + timedelta(2))
    enter(ledger, "d9", facts(unit("F02", interval_h=None)))
    assert [trend.unit_id for trend in interval_trends(ledger)] == ["F02"]
    lines = trend_lines(interval_trends(ledger))
    assert lines[1].split() == ["F02", "North", "1", "2026-06-20", "-", "2026-06-20", "-", "-", "-", "-"]


def test_a_cell_cannot_break_out_of_its_line(ledger) -> None:
    enter(ledger, "d1", facts(unit("a\nb\x1b[2J")))
    assert all(line.isprintable() for line in trend_lines(interval_trends(ledger)))


def test_it_is_crash_safe_and_whole(ledger) -> None:
    enter(ledger, "d1")
    assert ledger.execute("PRAGMA journal_mode").fetchone() == ("delete",)
    assert ledger.execute("PRAGMA synchronous").fetchone() == (3,)
    assert ledger.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert ledger.execute("PRAGMA foreign_key_check").fetchall() == []
    assert ledger.execute("PRAGMA user_version").fetchone() == (len(MIGRATIONS),)


def test_it_can_be_read_while_a_night_is_being_entered(ledger, tmp_path: Path) -> None:
    enter(ledger, "d1")
    with transaction(ledger):
        ledger.execute("DELETE FROM units")
        with open_ledger(tmp_path / "ledger.sqlite", create=False) as reader:
            assert last_good_run(reader).digest == "d1"
            assert len(unit_names_known(reader)) == 3


def test_a_full_disk_is_one_line_and_leaves_the_last_night(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite"
    with open_ledger(path) as opened:
        enter(opened, "d1")
    many = replace(FULL, units=tuple(unit(f"F{number:04d}") for number in range(5000)))
    with (
        pytest.raises(LedgerError, match=r"cannot be used \(database or disk is full\); check space"),
        open_ledger(path) as opened,
    ):
        fill(opened, many)
    with open_ledger(path) as opened:
        assert last_good_run(opened).digest == "d1"
        assert opened.execute("PRAGMA integrity_check").fetchone() == ("ok",)


@pytest.mark.parametrize(
    "content", [b"not a database, but long enough to look like one" * 40, b"SQLite format 3\x00"]
)
def test_a_file_that_is_no_ledger_is_refused_in_one_line(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "ledger.sqlite").write_bytes(content)
    with pytest.raises(LedgerError, match=r"cannot be used .* move it away"), open_ledger(tmp_path / "ledger.sqlite"):
        pass
    assert (tmp_path / "ledger.sqlite").read_bytes() == content


def test_a_folder_in_its_place_is_refused(tmp_path: Path) -> None:
    (tmp_path / "ledger.sqlite").mkdir()
    with pytest.raises(LedgerError, match="cannot be used"), open_ledger(tmp_path / "ledger.sqlite"):
        pass


def test_a_newer_and_a_foreign_database_are_refused(tmp_path: Path) -> None:
    newer = tmp_path / "newer.sqlite"
    with open_ledger(newer) as opened:
        opened.execute(f"PRAGMA user_version = {len(MIGRATIONS) + 1}")
    with pytest.raises(LedgerError, match="newer version"), open_ledger(newer):
        pass
    foreign = tmp_path / "foreign.sqlite"
    other = sqlite3.connect(foreign)
    other.execute("PRAGMA user_version = 1")
    other.close()
    with pytest.raises(LedgerError, match="another program"), open_ledger(foreign):
        pass


def test_reading_makes_no_ledger(tmp_path: Path) -> None:
    with pytest.raises(LedgerError, match="no ledger there"), open_ledger(tmp_path / "none.sqlite", create=False):
        pass
    assert list(tmp_path.iterdir()) == []
