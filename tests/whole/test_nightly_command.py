"""Nights as the timer runs them: nothing done twice, changes said, a fault is one line over the last good report."""

from __future__ import annotations

import contextlib
import errno
import json
import os
import re
import shutil
import signal
import socket
import sqlite3
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta, timezone
from email import message_from_bytes
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import polars as pl
import psycopg
import pytest
from aiosmtpd.controller import Controller
from no_evidence import no_evidence
from small_logs import AS_OF, drain, simple_log, write_tables_and_words, write_tables_only
from typer.testing import CliRunner

from draincurve.cli import app
from draincurve.nightly import night as night_module
from draincurve.nightly.night_clock import Moment
from draincurve.nightly.night_inputs import digest_of_inputs
from draincurve.nightly.run_lock import one_at_a_time
from draincurve.pipeline.reading.sources import read_tables
from draincurve.reports.output.dated_reports import latest_report
from draincurve.schemas.nightly_settings import NightlySettings

SAMPLE = Path(__file__).parents[2] / "sample_data" / "race_team"
SECRET = "hunter2-of-the-test"


@dataclass(frozen=True)
class Said:
    """One night: exit status, its line of JSON, what it wrote on standard error."""

    status: int
    line: dict
    errors: str


@pytest.fixture(autouse=True, scope="module")
def one_plan_for_the_same_inputs():
    """The plan is the slow part: the same inputs give the same one, so it is made once for all tests here."""
    plans: dict[str, object] = {}
    real = night_module.plan

    def plan(inputs, progress):
        key = digest_of_inputs(inputs, replace(NightlySettings(), policy=inputs.settings))
        if key not in plans:
            with no_evidence():
                plans[key] = real(inputs, progress)
        return plans[key]

    night_module.plan = plan
    yield
    night_module.plan = real


@pytest.fixture(autouse=True)
def short_pages(request, monkeypatch) -> None:
    """Tables and record as they are, and a page of one line, for tests that look at no page."""
    if "whole_pages" in request.fixturenames:
        return
    writes = write_tables_and_words if "words_of_pages" in request.fixturenames else write_tables_only
    monkeypatch.setattr(night_module, "write_files", writes)


@pytest.fixture
def whole_pages() -> None:
    """For tests that look at pages."""


@pytest.fixture
def words_of_pages() -> None:
    """For tests that read pages: no pictures, no printed edition, no workbook."""


@pytest.fixture
def night(tmp_path: Path) -> Callable[..., Said]:
    """Run `draincurve nightly night.toml` in a folder of its own."""

    def call(*words: str, as_of: str | None = AS_OF) -> Said:
        given = () if as_of is None else ("--as-of", as_of)
        result = CliRunner().invoke(app, ["nightly", str(tmp_path / "night.toml"), *given, *words])
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        assert result.stdout.count("\n") <= 1
        return Said(result.exit_code, json.loads(result.stdout or "{}"), result.stderr)

    return call


@pytest.fixture
def shop(tmp_path: Path, write) -> Path:
    """A small shop: its log, its settings; returns the folder of its reports."""
    write("drains.csv", simple_log(4, 5))
    settings(tmp_path)
    return tmp_path / "reports"


def settings(folder: Path, more: str = "") -> None:
    (folder / "night.toml").write_text(f'[sources]\nlog = "drains.csv"\n{more}', encoding="utf-8")


def tree(folder: Path) -> dict[str, bytes]:
    """Every file below a folder but what times differ in."""
    found = {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    for name in [name for name in found if name.endswith("run.json")]:
        record = json.loads(found[name])
        record.pop("timings")
        found[name] = json.dumps(record).encode()
    return found


def test_a_night_leaves_a_report_a_line_and_a_ledger(night, shop: Path) -> None:
    said = night()
    assert said.status == said.line["exit_status"] == 0
    assert said.errors == ""
    assert said.line["status"] == "done"
    assert (said.line["as_of"], said.line["read"], said.line["accepted"], said.line["held_back"]) == (
        AS_OF,
        20,
        20,
        0,
    )
    assert Path(said.line["report"]) == latest_report(shop) / "report.html"
    assert said.line["changes"] is None
    assert said.line["due_now"] >= 0
    assert (shop / "ledger.sqlite").is_file()


@pytest.mark.parametrize("header", ["Which one", "Tag #", 'uniit "id"'])
def test_the_settings_that_a_night_prints_mend_it(night, shop: Path, write, header: str) -> None:
    rows = [{header: row.pop("unit_id")} | row for row in simple_log(3, 5)]
    write("drains.csv", rows)
    said = night()
    assert said.status == 1
    assert said.line["settings"][0] == "[policy.headers]"
    message, *block = said.errors.rstrip("\n").split("\n")
    assert "[policy.headers] unit_id" in message
    assert block == said.line["settings"]
    settings(shop.parent, "\n".join(block))
    assert night().status == 0


def test_nothing_new_is_not_done_again_and_ends_as_before(night, shop: Path, write) -> None:
    write("drains.csv", [*simple_log(4, 5), drain("U01", date(2026, 6, 1), -3)])
    first = night()
    before = tree(latest_report(shop)), (latest_report(shop) / "report.html").stat().st_mtime_ns
    again = night()
    assert (first.status, again.status) == (3, 3)
    assert again.line["status"] == "unchanged"
    assert again.line["report"] == first.line["report"]
    assert [item.name for item in shop.iterdir() if item.is_dir() and not item.is_symlink()] == ["2026-06-20_0001"]
    assert (tree(latest_report(shop)), (latest_report(shop) / "report.html").stat().st_mtime_ns) == before
    for name in ("as_of", "read", "accepted", "held_back", "due_now", "inspect_now", "changes"):
        assert again.line[name] == first.line[name]


def test_forced_it_is_done_again_to_the_same_bytes(whole_pages, night, shop: Path, write, monkeypatch) -> None:
    write("drains.csv", simple_log(2, 4))
    with monkeypatch.context() as patch:
        patch.setattr(night_module, "write_files", write_tables_only)
        night(as_of="2026-06-19")
    night()
    first = latest_report(shop)
    assert night("--force").line["status"] == "done"
    second = latest_report(shop)
    assert second != first
    assert tree(second) == tree(first)
    assert json.loads((second / "run.json").read_text())["changes"]["since"] == "2026-06-19"


def test_a_report_that_somebody_deleted_is_made_anew(night, shop: Path) -> None:
    night()
    shutil.rmtree(latest_report(shop))
    assert night().line["status"] == "done"
    assert (latest_report(shop) / "report.html").is_file()


def test_what_changed_is_counted_in_the_line_and_stands_in_the_record(night, shop: Path, write) -> None:
    night(as_of="2026-06-19")
    rows = [
        *simple_log(4, 5),
        *(row | {"unit_id": "NEW1"} for row in simple_log(1, 3)),
        drain("U02", date(2026, 6, 2), -1),
    ]
    write("drains.csv", rows)
    said = night()
    assert said.status == 3
    assert said.line["since"] == "2026-06-19"
    assert said.line["changes"]["new_units"] == 1
    assert said.line["changes"]["newly_held_back"] == 1
    assert said.line["changes"]["shrunk"] == 0
    changes = json.loads((latest_report(shop) / "run.json").read_text())["changes"]
    assert changes["new_units"] == [{"unit_id": "NEW1", "site": None}]
    assert changes["newly_held_back"][0]["line"] == 25


def test_a_log_that_shrank_is_said_loudly(words_of_pages, night, shop: Path, write) -> None:
    night(as_of="2026-06-19")
    write("drains.csv", simple_log(4, 5)[:-3])
    said = night()
    assert said.line["changes"]["shrunk"] == 1
    assert said.line["changes"]["fewer_drains"] == 1
    assert "3 rows fewer than before (20 then, 17 now)" in said.line["warnings"][0]
    assert "3 rows fewer than before" in (latest_report(shop) / "report.html").read_text()


def test_two_nights_at_once(night, shop: Path) -> None:
    with one_at_a_time(shop, "process 1, since 03:30"):
        said = night()
    assert said.status == 1
    assert said.line["status"] == "failed"
    assert said.errors.count("\n") == 1
    assert "another run is at work there (process 1, since 03:30)" in said.errors
    assert night().status == 0


def test_the_lock_file_of_a_dead_process_stops_nobody(night, shop: Path) -> None:
    shop.mkdir()
    (shop / ".lock").write_text("process 999999, since last week")
    assert night().status == 0


FAULTS = {
    "source missing": lambda folder: (folder / "drains.csv").unlink(),
    "source malformed": lambda folder: (folder / "drains.csv").write_bytes(b"\x00\x01\x02" * 50),
    "source empty": lambda folder: (folder / "drains.csv").write_bytes(b""),
    "source a folder": lambda folder: ((folder / "drains.csv").unlink(), (folder / "drains.csv").mkdir()),
    "workbook cut": lambda folder: (folder / "drains.csv").write_bytes(b"PK\x03\x04 cut"),
    "ledger damaged": lambda folder: (folder / "reports" / "ledger.sqlite").write_bytes(b"damaged" * 1000),
    "setting wrong": lambda folder: settings(folder, "[policy]\naccepted_rsk = 0.1"),
    "database down": lambda folder: (folder / "night.toml").write_text(
        '[sources]\nlog = "postgresql://bench@127.0.0.1:9/shop#drains"'
    ),
    "side table missing": lambda folder: settings(folder, 'units = "none.csv"'),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_is_one_line_and_the_last_good_report_stays(
    night, shop: Path, tmp_path: Path, monkeypatch, fault: str
) -> None:
    monkeypatch.setenv("PGPASSWORD", SECRET)
    assert night(as_of="2026-06-19").status == 0
    made = latest_report(shop)
    before = tree(made)
    an_hour_ago = time.time() - 2 * 3600
    os.utime(made / "run.json", (an_hour_ago, an_hour_ago))
    FAULTS[fault](tmp_path)
    said = night()
    assert said.status == 1
    assert said.line["status"] == "failed"
    assert said.errors.startswith("draincurve: ")
    assert said.errors.count("\n") == 1
    assert "Traceback" not in said.errors
    assert "fault of the program" not in said.errors
    assert SECRET not in said.errors + json.dumps(said.line)
    assert latest_report(shop) == made
    assert tree(made) == before
    assert [item.name for item in shop.iterdir() if item.name.startswith(".building")] == []
    if fault == "setting wrong":
        assert "did you mean accepted_risk?; whatever report is there stays" in said.errors
    else:
        assert "the last good report stays: it is for 2026-06-19, made 2.0 hours ago" in said.errors
        assert said.line["last_good"]["as_of"] == "2026-06-19"


def test_a_failed_night_is_in_the_ledger_and_the_next_good_one_is_held_against_the_last_good(
    night, shop, write
) -> None:
    night(as_of="2026-06-18")
    write("drains.csv", [])
    assert night(as_of="2026-06-19").status == 1
    write("drains.csv", simple_log(4, 5))
    assert night().line["since"] == "2026-06-18"
    ledger = sqlite3.connect(shop / "ledger.sqlite")
    rows = ledger.execute("SELECT status, message FROM runs ORDER BY run_id").fetchall()
    ledger.close()
    assert [row[0] for row in rows] == ["good", "failed", "good"]
    assert "drains.csv" in rows[1][1]


def test_no_earlier_report_is_said_as_such(night, shop: Path, tmp_path: Path) -> None:
    (tmp_path / "drains.csv").unlink()
    said = night()
    assert said.status == 1
    assert said.errors.endswith("there is no earlier report\n")
    assert latest_report(shop) is None


@pytest.mark.parametrize("place", ["a file", "below a file", "read only"])
def test_an_output_folder_that_cannot_be(night, shop: Path, tmp_path: Path, place: str) -> None:
    (tmp_path / "taken").write_text("mine")
    folder = {"a file": "taken", "below a file": "taken/reports", "read only": "/proc/reports"}[place]
    settings(tmp_path, f'[output]\nfolder = "{folder}"')
    said = night()
    assert said.status == 1
    assert said.errors.count("\n") == 1
    assert "check the folder, its space and its rights" in said.errors
    assert (tmp_path / "taken").read_text() == "mine"


def test_a_disk_that_is_full_is_named_by_its_folder(night, shop: Path, monkeypatch) -> None:
    def full(*_: object, changes: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))  # as write() says it, without a name

    monkeypatch.setattr(night_module, "write_files", full)
    assert f"draincurve: {shop}: No space left on device; check" in night().errors


def rows_of_runs(shop: Path) -> list[tuple[str, str]]:
    ledger = sqlite3.connect(shop / "ledger.sqlite")
    rows = ledger.execute("SELECT status, message FROM runs ORDER BY run_id").fetchall()
    ledger.close()
    return rows


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_ends_the_night_with_a_line_and_its_row(night, shop: Path, monkeypatch, number: int) -> None:
    night(as_of="2026-06-19")
    made = latest_report(shop)

    def stopped(*_: object) -> None:
        os.kill(os.getpid(), number)
        time.sleep(5)

    monkeypatch.setattr(night_module, "plan", stopped)
    said = night()
    name = signal.Signals(number).name
    assert (said.status, said.line["status"], said.line["message"]) == (1, "stopped", f"stopped by {name}")
    assert said.errors.startswith(f"draincurve: stopped by {name}; the last good report stays: it is for 2026-06-19")
    assert said.errors.count("\n") == 1
    assert rows_of_runs(shop)[-1] == ("stopped", f"stopped by {name}")
    assert latest_report(shop) == made


def test_a_night_past_its_time_is_given_up_and_that_is_told(night, shop: Path, tmp_path: Path, monkeypatch) -> None:
    settings(tmp_path, "[schedule]\nnight_deadline_s = 1\n[delivery.metrics]\nfile = 'night.prom'\n")
    monkeypatch.setattr(night_module, "plan", lambda *_: time.sleep(20))
    said = night()
    assert (said.status, said.line["status"], ways(said)) == (1, "failed", [("metrics", True)])
    assert "the night's time is over (1 s, night_deadline_s)" in said.errors
    assert said.line["seconds"] < 3
    assert rows_of_runs(shop)[-1][0] == "failed"
    assert "draincurve_last_run_good 0\n" in (tmp_path / "night.prom").read_text()


def test_a_log_that_grows_while_it_is_read_is_said(night, shop: Path, monkeypatch) -> None:
    real = read_tables.read_csv_file

    def read(path: Path, *more: Any) -> Any:
        found = real(path, *more)
        path.write_bytes(path.read_bytes() + b"\n")
        return found

    monkeypatch.setattr(read_tables, "read_csv_file", read)
    assert "drains.csv was written to while it was read, twice in a row" in night().line["warnings"][0]


def test_on_a_terminal_it_prints_for_people(night, shop: Path, tmp_path: Path, monkeypatch) -> None:
    night()
    terminal = SimpleNamespace(stdout=SimpleNamespace(isatty=lambda: True))
    monkeypatch.setattr("draincurve.commands.nightly.sys", terminal)
    words = ["nightly", str(tmp_path / "night.toml"), "--as-of", AS_OF]
    printed = CliRunner().invoke(app, words).stdout.splitlines()
    assert printed[0].startswith("Nothing has changed: the last report stays (")
    assert printed[1] == "20 rows read, 0 held back."
    assert printed[-1] == f"report: {latest_report(shop) / 'report.html'}"
    assert json.loads(CliRunner().invoke(app, [*words, "--json"]).stdout)["status"] == "unchanged"


def test_a_fault_that_nobody_foresaw_is_one_line_without_its_words(night, shop: Path, monkeypatch) -> None:
    def broken(*_: object, changes: object) -> None:
        raise RuntimeError(SECRET)

    monkeypatch.setattr(night_module, "write_files", broken)
    said = night()
    assert said.status == 1
    assert "a fault of the program (RuntimeError in test_nightly_command.py, line " in said.errors
    assert SECRET not in said.errors + json.dumps(said.line)
    assert latest_report(shop) is None


def at(day: str, hour: int, zone: str = "UTC/UTC", offset: int = 0) -> Moment:
    there = timezone(timedelta(hours=offset))
    local = (datetime.fromisoformat(day).replace(tzinfo=UTC) + timedelta(hours=hour)).astimezone(there)
    return Moment(local, zone, local.date())


def set_clock(monkeypatch, moment: Moment) -> None:
    monkeypatch.setattr("draincurve.nightly.night_clock.present_moment", lambda: moment)


def test_a_clock_that_went_back_makes_no_report(words_of_pages, night, shop: Path, monkeypatch) -> None:
    set_clock(monkeypatch, at(AS_OF, 3))
    assert night(as_of=None).line["as_of"] == AS_OF
    made = latest_report(shop)
    set_clock(monkeypatch, at("1970-01-01", 0))
    said = night(as_of=None)
    assert said.status == 1
    assert "the machine's clock went back: it says 1970-01-01 00:00 +0000" in said.errors
    assert "which the clock says is to come" in said.errors
    assert latest_report(shop) == made
    told = night(as_of="2026-06-21")
    assert told.status == 0
    assert "clock went back" in told.line["warnings"][0]
    assert "clock went back" in (latest_report(shop) / "report.html").read_text()
    set_clock(monkeypatch, at("1970-01-02", 3))
    assert night(as_of=None).line["exit_status"] in (0, 3), "after a day was given, the clock counts from there"


def test_another_time_zone_keeps_the_later_day_and_says_so(night, shop: Path, monkeypatch) -> None:
    set_clock(monkeypatch, at(AS_OF, 3))
    night(as_of=None)
    set_clock(monkeypatch, at(AS_OF, 5, "PST/PDT", -8))
    said = night("--force", as_of=None)
    assert said.line["as_of"] == AS_OF
    assert "time zone changed from UTC/UTC to PST/PDT" in said.line["warnings"][0]
    assert "the later day" in said.line["warnings"][1]
    set_clock(monkeypatch, at(AS_OF, 6, "PST/PDT", -8))
    assert night("--force", as_of=None).line["as_of"] == AS_OF


def test_n_reports_are_kept(night, shop: Path, tmp_path: Path) -> None:
    settings(tmp_path, "[schedule]\nkeep_reports = 2")
    for day in (17, 18, 19, 20):
        night(as_of=f"2026-06-{day}")
    kept = sorted(item.name for item in shop.iterdir() if item.is_dir() and not item.is_symlink())
    assert kept == ["2026-06-19_0003", "2026-06-20_0004"]


MAIL = """
[delivery.mail]
host = "127.0.0.1"
port = {port}
security = "none"
sender = "a@b.example"
recipients = [{recipients}]
tries = 1
first_wait_s = 0
timeout_s = 5
"""


@dataclass
class PostBox:
    """Keeps what arrives: recipient and message id."""

    arrived: list[tuple[str, str]] = field(default_factory=list)

    async def handle_DATA(self, _server: Any, _session: Any, envelope: Any) -> str:
        message = message_from_bytes(envelope.content)
        self.arrived += [(address, str(message["Message-ID"])) for address in envelope.rcpt_tos]
        return "250 OK"


@pytest.fixture
def mail_server() -> Iterator[tuple[PostBox, Controller]]:
    """A mail server of this machine that is not running yet."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        port = listener.getsockname()[1]
    box = PostBox()
    controller = Controller(box, hostname="127.0.0.1", port=port)
    yield box, controller
    controller.stop(no_assert=True)


def ways(said: Said) -> list[tuple[str, bool]]:
    return [(one["way"], one["delivered"]) for one in said.line["deliveries"]]


def test_a_report_is_sent_to_each_receiver_once_by_whichever_night_can(
    whole_pages, night, shop, write, tmp_path, mail_server
) -> None:
    box, controller = mail_server
    write("drains.csv", simple_log(2, 4))
    assert night().line["deliveries"] == []
    metrics = "[delivery.metrics]\nfile = 'night.prom'\n"
    first = MAIL.format(port=controller.port, recipients="'c@d.example'")
    settings(tmp_path, first + metrics)
    said = night()
    assert (said.status, said.line["status"], ways(said)) == (0, "unchanged", [("mail", False), ("metrics", True)])
    assert "draincurve_delivery_failures 1\n" in (tmp_path / "night.prom").read_text()
    assert "draincurve_last_run_good 1\n" in (tmp_path / "night.prom").read_text()
    controller.start()
    said = night()
    assert (said.line["status"], ways(said)) == ("unchanged", [("mail", True), ("metrics", True)])
    assert ways(night()) == [("metrics", True)]
    settings(tmp_path, MAIL.format(port=controller.port, recipients="'c@d.example', 'e@f.example'"))
    assert ways(night()) == [("mail", True)]
    assert night().line["deliveries"] == []
    assert [address for address, _ in box.arrived] == ["c@d.example", "e@f.example"]
    assert len({name for _, name in box.arrived}) == 1
    assert ways(night("--force")) == [("mail", True)], "made anew because a person asked for it, it is sent anew"
    assert len(box.arrived) == 4


def test_a_report_that_reached_nobody_is_named_by_the_one_after_it(night, shop, tmp_path) -> None:
    settings(tmp_path, MAIL.format(port=9, recipients="'c@d.example'"))
    night(as_of="2026-06-19")
    said = night()
    assert "The report of 2026-06-19 was not delivered to everybody by mail" in said.line["warnings"][0]


def test_no_secret_is_left_behind(night, shop, tmp_path, monkeypatch) -> None:
    monkeypatch.setenv("SHOP_MAIL_PASSWORD", SECRET)
    monkeypatch.setenv("SHOP_MAIL_USER", "bench")
    login = "user_env = 'SHOP_MAIL_USER'\npassword_env = 'SHOP_MAIL_PASSWORD'\n"
    settings(tmp_path, MAIL.format(port=9, recipients="'c@d.example'") + login)
    said = night()
    for path in tmp_path.rglob("*"):
        assert not path.is_file() or SECRET.encode() not in path.read_bytes(), path
    assert SECRET not in said.errors + json.dumps(said.line)


HOSTILE = ("../../evil", "/etc/passwd", "a/b", "..", "CON", "-rf", "<b>x</b>", "U\u202e1", "=1+1", "a\x00b")


def test_hostile_names_never_become_a_path(words_of_pages, night, tmp_path: Path) -> None:
    shop = tmp_path / "deep" / "shop"
    shop.mkdir(parents=True)
    rows = []
    for number, name in enumerate(HOSTILE):
        rows += [row | {"unit_id": name, "site": HOSTILE[-1 - number // 5]} for row in simple_log(1, 3, seed=number)]
    pl.DataFrame([{key: str(cell) for key, cell in row.items()} for row in rows]).write_parquet(
        shop / "drains.parquet"
    )
    (shop / "night.toml").write_text('[sources]\nlog = "drains.parquet"\n')
    outside = {path for path in tmp_path.rglob("*") if path != shop}
    result = CliRunner().invoke(app, ["nightly", str(shop / "night.toml"), "--as-of", AS_OF])
    assert result.exit_code in (0, 3), result.output
    report = latest_report(shop / "reports")
    assert report is not None
    sites = sorted(item.name for item in (report / "sites").iterdir())
    assert len(sites) == json.loads(result.stdout)["sites"] >= 2
    for site in sites:
        assert (report / "sites" / site / "report.html").is_file()
    made = {path for path in tmp_path.rglob("*") if shop / "reports" not in (path, *path.parents)}
    assert made <= outside | {shop, shop / "drains.parquet", shop / "night.toml"}
    for path in (shop / "reports").rglob("*"):
        assert path.resolve().is_relative_to(shop / "reports")


def test_history_follows_a_unit_and_knows_near_names(night, shop: Path, tmp_path: Path) -> None:
    for day in (18, 19, 20):
        night(as_of=f"2026-06-{day}")

    def history(*words: str) -> tuple[int, str]:
        result = CliRunner().invoke(app, ["history", *words])
        return result.exit_code, result.output

    for where in (("--settings", str(tmp_path / "night.toml")), ("--ledger", str(shop / "ledger.sqlite"))):
        status, text = history("U01", *where)
        assert status == 0
        assert [line[:10] for line in text.splitlines()[1:]] == ["2026-06-18", "2026-06-19", "2026-06-20"]
        assert "oil alone 5 % to 95 %" in text.splitlines()[0]
    status, text = history("U1", "--settings", str(tmp_path / "night.toml"))
    assert (status, text.count("\n")) == (1, 1)
    assert "did you mean" in text
    assert "U01" in text
    assert len(history("--ledger", str(shop / "ledger.sqlite"))[1].splitlines()) == 5
    assert history("U01", "--settings", "x.toml", "--ledger", "y")[0] == 2
    (tmp_path / "empty").mkdir()
    with contextlib.chdir(tmp_path / "empty"):
        assert history("U01")[0] == 1
    with contextlib.chdir(shop):
        assert history("U01") == history("U01", "--ledger", "ledger.sqlite")
    assert history("U01", "--ledger", str(tmp_path / "none"))[0] == 1
    (tmp_path / "drains.csv").write_text("unit_id,drained_on\nU01,2026-06-21\n")
    assert night(as_of="2026-06-21").status == 1
    status, text = history("U01", "--ledger", str(shop / "ledger.sqlite"))
    assert status == 0
    assert "caution: the last run" in text.splitlines()[-1]
    assert "left no report, failed: " in text.splitlines()[-1]


def test_history_as_json_is_for_monitoring(night, shop: Path, tmp_path: Path) -> None:
    def state() -> tuple[int, dict]:
        result = CliRunner().invoke(app, ["history", "--json", "--settings", str(tmp_path / "night.toml")])
        return result.exit_code, json.loads(result.stdout)

    night()
    status, told = state()
    assert (status, told["last_run"]["status"], told["last_report"]["as_of"]) == (0, "good", AS_OF)
    (tmp_path / "drains.csv").unlink()
    night()
    status, told = state()
    assert (status, told["last_run"]["status"], told["last_report"]["as_of"]) == (1, "failed", AS_OF)
    assert "drains.csv" in told["last_run"]["message"]


def test_quiet_prints_nothing_and_wrong_usage_is_2(night, shop: Path) -> None:
    assert night("--quiet").line == {}
    assert night("--no-such-option").status == 2
    assert night("--init", "x.toml").status == 2
    assert night(as_of="20 June").status == 2


def test_the_written_settings_run_on_the_sample_with_every_policy_line_taken_in(
    words_of_pages, tmp_path: Path, night
) -> None:
    for path in SAMPLE.iterdir():
        if path.suffix in (".csv", ".toml"):
            shutil.copy(path, tmp_path)
    assert CliRunner().invoke(app, ["nightly", "--init", str(tmp_path / "night.toml")]).exit_code == 0
    kept, table = [], ""
    for line in (tmp_path / "night.toml").read_text().splitlines():
        table = line if line.startswith("[") else table
        named = table.startswith(("[delivery", "[publish")) or line.startswith(("#oils", "#measurements"))
        kept.append(line if named else re.sub(r"^#(?=\w+ = )", "", line))
    (tmp_path / "night.toml").write_text("\n".join(kept))
    said = night()
    assert said.status == 3
    assert (said.line["sites"], said.line["read"]) == (2, said.line["accepted"] + said.line["held_back"])
    assert said.line["held_back"] > 0
    whole = pl.read_csv(tmp_path / "reports" / "latest" / "next_service.csv")
    sites = [
        pl.read_csv(path, schema=whole.schema)
        for path in sorted((tmp_path / "reports" / "latest" / "sites").glob("*/next_service.csv"))
    ]
    assert sorted(pl.concat(sites)["unit_id"]) == sorted(whole["unit_id"])
    assert CliRunner().invoke(app, ["nightly", "--init", str(tmp_path / "night.toml")]).exit_code == 1


@contextlib.contextmanager
def connected(address: str) -> Iterator[Callable[[str], list[tuple]]]:
    with psycopg.connect(address, autocommit=True) as connection:
        yield lambda query: connection.execute(query).fetchall()


def test_nights_are_published_once_and_by_the_next_where_the_database_was_away(
    night, shop: Path, tmp_path: Path, write, postgresql_shop
) -> None:
    address = postgresql_shop().location
    history = "SELECT night, count(*) FROM draincurve.next_service_history GROUP BY night ORDER BY night"
    night(as_of="2026-06-18")
    settings(tmp_path, '[publish]\naddress = "postgresql://bench@127.0.0.1:1/shop"\ntries = 1')
    away = night(as_of="2026-06-19")
    assert (away.status, away.line["status"]) == (0, "done")
    assert [(one["way"], one["delivered"]) for one in away.line["deliveries"]] == [("publish", False)]
    settings(tmp_path, f'[publish]\naddress = "{address}"')
    later = night(as_of="2026-06-19")
    assert (later.line["status"], later.line["deliveries"][0]["delivered"]) == ("unchanged", True)
    assert night(as_of="2026-06-19").line["deliveries"] == []
    with connected(address) as asked:
        assert asked(history) == [(date(2026, 6, 18), 4), (date(2026, 6, 19), 4)]
        write("drains.csv", simple_log(3, 5))
        new = night()
        assert new.line["deliveries"][0]["said"].startswith("3 units written to draincurve in ")
        assert not any("not delivered" in warning for warning in new.line["warnings"])
        assert night("--force").line["deliveries"][0]["delivered"]
        assert asked(history)[2:] == [(date(2026, 6, 20), 3)]
        rows = asked("SELECT unit_id, interval_h, standing FROM draincurve.next_service ORDER BY unit_id")
    table = pl.read_csv(latest_report(shop) / "next_service.csv").sort("unit_id")
    assert rows == table.select("unit_id", "interval_h", "standing").rows()
