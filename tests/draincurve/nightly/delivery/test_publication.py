"""The answers of the nights in a database, on a real server: whole or not at all, once each, nothing of others."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import polars as pl
import psycopg
import pytest
from running_postgresql import PASSWORD, USER

from draincurve.nightly.delivery import published_tables
from draincurve.nightly.delivery.delivery_record import InMemoryRecord, SendingState
from draincurve.nightly.delivery.night_report import DeliveryContext, DeliveryOutcome
from draincurve.nightly.delivery.publication import Publication, deliver_publication
from draincurve.nightly.delivery.published_tables import KeptNight
from draincurve.reports.tables.csv_tables import write_table
from draincurve.schemas.delivery_settings import PublishSettings
from draincurve.schemas.next_service_table import COLUMNS, NextService

UNIT = dict.fromkeys(COLUMNS) | {
    "unit_id": "F07", "site": "truck", "drains": 4, "last_drained_on": date(2026, 6, 1), "hours_on_oil": 6.25,
    "hours_on_oil_basis": "logged", "interval_h": 12.5, "risk_now": 0.03, "standing": "with the fleet",
    "turned": False,
}  # fmt: skip
NOW = "SELECT * FROM draincurve.next_service"
HISTORY = "SELECT * FROM draincurve.next_service_history ORDER BY night, unit_id"


@pytest.fixture
def asked(postgresql_shop) -> Iterator[Callable[[str], list[dict[str, Any]]]]:
    """Rows of a query over a connection of its own, which was there before anything was written."""
    with psycopg.connect(postgresql_shop().location, autocommit=True) as connection:

        def rows(query: str) -> list[dict[str, Any]]:
            with connection.cursor(row_factory=psycopg.rows.dict_row) as cursor:
                return cursor.execute(query).fetchall()

        yield rows


@pytest.fixture
def kept(tmp_path: Path) -> Callable[..., KeptNight]:
    """A night of June whose report has these units."""

    def made(day: int, *units: str, **cells: Any) -> KeptNight:
        folder = tmp_path / f"2026-06-{day:02}_{day:04}"
        folder.mkdir()
        schema = {name: column.dtype.type for name, column in NextService.to_schema().columns.items()}
        rows = pl.DataFrame([UNIT | cells | {"unit_id": unit} for unit in units], schema=schema)
        write_table(rows, folder / "next_service.csv")
        return KeptNight(f"digest of {day}", date(2026, 6, day), datetime(2026, 6, day, 3, 30, tzinfo=UTC), folder)

    return made


def settings(postgresql_shop, **more: Any) -> PublishSettings:
    return PublishSettings(address=postgresql_shop().location, tries=1, **more)


def published(wanted: PublishSettings, *nights: KeptNight, record: InMemoryRecord | None = None) -> DeliveryOutcome:
    """The outcome, which holds no password, of nights whose last one has not been published."""
    outcome = deliver_publication(
        Publication(wanted, nights), context=DeliveryContext(Path()), record=record or InMemoryRecord()
    )
    assert outcome is not None
    assert PASSWORD not in outcome.message
    return outcome


def test_cells_are_numbers_dates_truths_and_text(postgresql_shop, asked, kept):
    outcome = published(settings(postgresql_shop), kept(19, "=F07", "F08", site=None, turned=None))
    assert (outcome.way, outcome.delivered, outcome.tries) == ("publish", True, 1)
    assert "2 units written to draincurve in postgresql://bench@127.0.0.1" in outcome.message
    assert "1 night added to next_service_history" in outcome.message
    first, second = asked(NOW)
    own = {"night": date(2026, 6, 19), "run_id": "digest of 19", "made_at": datetime(2026, 6, 19, 3, 30, tzinfo=UTC)}
    assert first == own | UNIT | {"unit_id": "=F07", "site": None, "turned": None}
    assert second["unit_id"] == "F08"
    assert asked(HISTORY) == [first, second]
    kinds = {
        row["column_name"]: row["data_type"]
        for row in asked("SELECT * FROM information_schema.columns WHERE table_name = 'next_service'")
    }
    assert (kinds["interval_h"], kinds["due_on"], kinds["turned"], kinds["drains"], kinds["site"]) == (
        "double precision", "date", "boolean", "bigint", "text",
    )  # fmt: skip


def test_the_answers_are_replaced_and_the_history_grows(postgresql_shop, asked, kept):
    wanted = settings(postgresql_shop)
    first, second = kept(18, "F07", "F08"), kept(19, "F08")
    published(wanted, first)
    assert "1 night added" in published(wanted, first, second).message
    assert [row["unit_id"] for row in asked(NOW)] == ["F08"]
    assert [(row["night"].day, row["unit_id"]) for row in asked(HISTORY)] == [(18, "F07"), (18, "F08"), (19, "F08")]


def test_a_night_is_written_once_however_often_it_is_sent(postgresql_shop, asked, kept):
    wanted, night = settings(postgresql_shop), kept(19, "F07")
    for made in (night, night, replace(night, made_at=datetime(2026, 6, 19, 9, tzinfo=UTC))):
        assert published(wanted, made).delivered
    assert len(asked(NOW)) == len(asked(HISTORY)) == 1


def test_nights_that_the_database_missed_are_made_up_for(postgresql_shop, asked, kept):
    wanted = settings(postgresql_shop)
    nights = [kept(day, "F07") for day in (16, 17, 18, 19)]
    published(wanted, nights[0])
    assert "3 nights added" in published(wanted, *nights).message
    assert [row["night"].day for row in asked(HISTORY)] == [16, 17, 18, 19]
    assert [row["night"].day for row in asked(NOW)] == [19]


def test_a_long_past_is_made_up_for_as_far_as_the_time_goes(postgresql_shop, asked, kept, monkeypatch):
    wanted = replace(settings(postgresql_shop), timeout_s=1.5)
    nights = [kept(day, "F07") for day in range(1, 9)]
    real = published_tables._append

    def slow(session: Any, table: str, night: KeptNight) -> int:
        time.sleep(0.0 if night is nights[-1] else 0.6)
        return real(session, table, night)

    monkeypatch.setattr(published_tables, "_append", slow)
    first = published(wanted, *nights)
    assert not first.delivered
    assert {row["night"].day for row in asked(NOW)} == {8}
    tries = 1
    while not published(wanted, *nights).delivered:
        tries += 1
        assert tries < 12, "each try gets further"
    assert sorted(row["night"].day for row in asked(HISTORY)) == list(range(1, 9))


def test_what_has_been_written_is_not_written_again(postgresql_shop, kept):
    record, night = InMemoryRecord(), kept(19, "F07")
    wanted = settings(postgresql_shop)
    assert published(wanted, night, record=record).delivered
    context = DeliveryContext(Path())
    assert deliver_publication(Publication(wanted, (night,)), context=context, record=record) is None
    elsewhere = replace(wanted, schema="elsewhere")
    assert published(elsewhere, night, record=record).delivered


def test_a_reader_sees_the_old_answers_until_it_sees_the_new(postgresql_shop, asked, kept, monkeypatch):
    wanted = settings(postgresql_shop)
    first, second = kept(18, "F07", "F08"), kept(19, *(f"F{number}" for number in range(500)))
    published(wanted, first)
    real, seen = published_tables._append, []

    def looked(*given: Any) -> int:
        written = real(*given)
        seen.append(([row["night"].day for row in asked(NOW)], len(asked(HISTORY))))
        return written

    monkeypatch.setattr(published_tables, "_append", looked)
    published(wanted, first, second)
    assert seen == [([18, 18], 2)] * 2
    assert ({row["night"].day for row in asked(NOW)}, len(asked(NOW)), len(asked(HISTORY))) == ({19}, 500, 502)


def test_a_reader_that_looks_all_the_time_never_sees_half(postgresql_shop, asked, kept):
    wanted = settings(postgresql_shop)
    nights = [kept(day, *(f"F{number}" for number in range(40))) for day in range(1, 9)]
    published(wanted, nights[0])
    query = (
        "SELECT (SELECT count(*) FROM draincurve.next_service) AS units, "
        "(SELECT count(DISTINCT run_id) FROM draincurve.next_service) AS nights, "
        "(SELECT count(*) FROM draincurve.next_service_history) AS kept, "
        "(SELECT count(DISTINCT run_id) FROM draincurve.next_service_history) AS all_nights"
    )
    looks: list[tuple[int, ...]] = []
    done = threading.Event()

    def look() -> None:
        while not done.is_set():
            [row] = asked(query)
            looks.append((row["units"], row["nights"], row["kept"] - 40 * row["all_nights"]))

    thread = threading.Thread(target=look)
    thread.start()
    try:
        for number in range(2, 9):
            published(wanted, *nights[:number])
    finally:
        done.set()
        thread.join()
    assert len(looks) > 7
    assert set(looks) == {(40, 1, 0)}


def test_killed_in_between_the_old_answers_stand(postgresql_shop, asked, kept):
    wanted = settings(postgresql_shop)
    published(wanted, kept(18, "F07"))
    killed = kept(19, "F08")
    code = (
        "import os, signal, sys\nfrom datetime import date, datetime, UTC\nfrom pathlib import Path\n"
        "from draincurve.nightly.delivery import published_tables\n"
        "from draincurve.nightly.delivery.published_tables import KeptNight, write_answers, write_history\n"
        "from draincurve.pipeline.reading.sources import server_of, session_with\n"
        "night = KeptNight('digest of 19', date(2026, 6, 19), datetime(2026, 6, 19, tzinfo=UTC), Path(sys.argv[2]))\n"
        "with session_with(server_of(sys.argv[1], os.environ), writes=True) as session:\n"
        "    write_answers(session, 'draincurve', night)\n"
        "    write_history(session, 'draincurve', night)\n"
        "    os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    ended = subprocess.run(
        [sys.executable, "-c", code, postgresql_shop().location, str(killed.folder)],
        cwd=Path(__file__).parents[4], env=os.environ, check=False, timeout=60,
    )  # fmt: skip
    assert ended.returncode == -signal.SIGKILL
    assert [row["unit_id"] for row in asked(NOW)] == [row["unit_id"] for row in asked(HISTORY)] == ["F07"]
    assert published(wanted, killed).delivered
    assert [row["unit_id"] for row in asked(HISTORY)] == ["F07", "F08"]


def test_columns_come_and_stay_as_versions_change(postgresql_shop, asked, kept):
    wanted = settings(postgresql_shop)
    published(wanted, kept(18, "F07", turned=True))
    postgresql_shop(
        "ALTER TABLE draincurve.next_service_history DROP turned; ALTER TABLE draincurve.next_service DROP turned;"
        "ALTER TABLE draincurve.next_service_history ADD past text;"
        "UPDATE draincurve.next_service_history SET past = 'x'"
    )
    night = kept(19, "F07", turned=True)
    lines = night.table.read_text().splitlines()
    night.table.write_text(f"{lines[0]},of another version\n{lines[1]},y\n")
    assert published(wanted, night).delivered
    assert [(row["turned"], row["past"]) for row in asked(HISTORY)] == [(None, "x"), (True, None)]


def test_a_report_without_units_empties_the_answers(postgresql_shop, asked, kept):
    wanted = settings(postgresql_shop)
    published(wanted, kept(18, "F07"))
    assert published(wanted, kept(19)).delivered
    assert asked(NOW) == []
    assert len(asked(HISTORY)) == 1


def test_nothing_of_anybody_else_is_touched(postgresql_shop, asked, kept):
    postgresql_shop(
        "CREATE TABLE next_service (mine text); INSERT INTO next_service VALUES ('stays');"
        "CREATE SCHEMA shop; CREATE TABLE shop.next_service (mine text);"
        "INSERT INTO shop.next_service VALUES ('stays')"
    )
    tables = "SELECT schemaname || '.' || relname AS name FROM pg_stat_user_tables"
    before = {row["name"] for row in asked(tables)}
    assert published(settings(postgresql_shop), kept(19, "F07")).delivered
    made = {row["name"] for row in asked(tables)} - before
    assert made == {"draincurve.next_service", "draincurve.next_service_history"}
    outcome = published(settings(postgresql_shop, schema="shop"), kept(20, "F07"))
    assert (outcome.delivered, outcome.tries) == (False, 1)
    assert "shop.next_service was not made by this program" in outcome.message
    assert asked("SELECT * FROM shop.next_service") == asked("SELECT * FROM next_service") == [{"mine": "stays"}]


def test_a_schema_that_was_made_for_a_user_without_rights(postgresql_shop, asked, kept):
    postgresql_shop(
        f"DO $$ BEGIN CREATE ROLE guest LOGIN PASSWORD '{PASSWORD}'; EXCEPTION WHEN duplicate_object THEN END $$"
    )
    wanted = PublishSettings(address=postgresql_shop(user="guest").location, tries=3)
    night = kept(19, "F07")
    outcome = published(wanted, night)
    assert (outcome.delivered, outcome.tries) == (False, 1), "asking again does not help"
    assert "this user may not write there" in outcome.message
    postgresql_shop("CREATE SCHEMA draincurve AUTHORIZATION guest")
    assert published(wanted, night).delivered
    assert len(asked(NOW)) == 1


@pytest.mark.parametrize("secret", [PASSWORD, "Wr0ng&Zq7"])
def test_a_wrong_password_is_tried_once_and_not_said(postgresql_shop, kept, monkeypatch, secret):
    wanted = replace(settings(postgresql_shop), tries=3)
    monkeypatch.setenv("PGPASSWORD", secret)
    outcome = published(wanted, kept(19, "F07"))
    assert (outcome.delivered, outcome.tries) == (secret == PASSWORD, 1)
    assert "Wr0ng" not in outcome.message


def test_a_database_that_is_away_is_tried_again_and_then_by_the_next_night(postgresql_shop, asked, kept):
    record, waits, night = InMemoryRecord(), [], kept(19, "F07")
    away = PublishSettings(address=f"postgresql://{USER}@127.0.0.1:1/shop", tries=3, first_wait_s=2.0)
    context = DeliveryContext(Path(), sleep=waits.append)
    outcome = deliver_publication(Publication(away, (night,)), context=context, record=record)
    assert outcome is not None
    assert (outcome.delivered, outcome.tries, waits) == (False, 3, [2.0, 4.0])
    assert "cannot be reached" in outcome.message
    assert record.kept == {}
    assert published(settings(postgresql_shop), night, record=record).delivered
    assert list(record.kept.values()) == [SendingState.SENT]


def test_a_server_that_never_answers_costs_one_try(kept):
    with closing(socket.create_server(("127.0.0.1", 0))) as silent:
        port = silent.getsockname()[1]
        wanted = PublishSettings(address=f"postgresql://{USER}@127.0.0.1:{port}/shop", tries=1, timeout_s=0.4)
        begin = time.monotonic()
        outcome = published(wanted, kept(19, "F07"))
    assert time.monotonic() - begin < 4.0
    assert not outcome.delivered
    assert "does not answer within 0.4 s" in outcome.message


def test_a_lock_that_is_held_costs_one_try_and_nothing_is_written_later(postgresql_shop, asked, kept):
    wanted = replace(settings(postgresql_shop), timeout_s=1.0)
    published(wanted, kept(18, "F07"))
    with psycopg.connect(postgresql_shop().location) as other:
        other.execute("LOCK draincurve.next_service_history IN SHARE MODE")
        begin = time.monotonic()
        outcome = published(wanted, kept(19, "F08"))
        assert time.monotonic() - begin < 5.0
        assert not outcome.delivered
        assert "does not answer within 1 s" in outcome.message
    time.sleep(0.3)
    assert [row["unit_id"] for row in asked(NOW)] == [row["unit_id"] for row in asked(HISTORY)] == ["F07"]


def test_a_report_that_is_gone_is_said(postgresql_shop, kept):
    night = kept(19, "F07")
    night.table.unlink()
    outcome = published(settings(postgresql_shop), night)
    assert (outcome.delivered, outcome.tries) == (False, 1)
    assert "next_service.csv: No such file or directory" in outcome.message
    assert published(settings(postgresql_shop), night, kept(20, "F07")).delivered, "an older one stops nothing"
