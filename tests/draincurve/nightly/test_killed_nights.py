"""Nights killed at random instants and at every step that changes the disk, and nights without room on it."""

from __future__ import annotations

import csv
import json
import os
import signal
import time
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from counting_mail_server import MAIL, counting_server
from deep_runs import examples
from night_child import Fault, Job, finish, make_plan, said, start
from standing_night import assert_night_done, assert_true_at_any_instant

KILLS = examples(12)
COLUMNS = (
    "unit_id", "drained_on", "oil_hours", "oil_grade", "colour_rating", "debris_rating", "spring_type", "rider",
    "site",
)  # fmt: skip
ALIKE = ("open", "os.remove")


@pytest.fixture(scope="module")
def shop(tmp_path_factory) -> tuple[Path, Path]:
    """A small log of two sites, its settings and its plan."""
    folder = tmp_path_factory.mktemp("shop")
    rng = np.random.default_rng(3)
    with (folder / "drains.csv").open("w", encoding="utf-8") as file:
        log = csv.writer(file)
        log.writerow(COLUMNS)
        for number in range(24):
            unit, hours = number % 6, float(rng.uniform(5, 25))
            day = date(2026, 6, 10) - timedelta(days=10 * (number // 6))
            rating = 1 + int(hours > 8) + int(hours > 16)
            site = "North/yard" if unit < 3 else "South"
            log.writerow([f"U{unit}", day, round(hours, 1), "Fork 5", rating, rating, "Plain 46", "Brask", site])
    settings = folder / "night.toml"
    settings.write_text('[sources]\nlog = "drains.csv"\n[schedule]\nkeep_reports = 2\n')
    make_plan(settings, folder / "plan.pickle")
    return settings, folder / "plan.pickle"


def settings_in(shop: tuple[Path, Path], folder: Path) -> Job:
    """The shop's first night, its reports in a folder of their own."""
    settings = folder / "night.toml"
    log = os.path.relpath(shop[0].parent / "drains.csv", folder)
    settings.write_text(f'[sources]\nlog = "{log}"\n[schedule]\nkeep_reports = 2\n')
    return Job(settings, shop[1])


def settings_and_fault(shop: tuple[Path, Path], folder: Path, fault: Fault) -> Job:
    folder.mkdir()
    return replace(settings_in(shop, folder), fault=fault)


def test_nights_killed_at_random_instants(shop, tmp_path: Path) -> None:
    first = settings_in(shop, tmp_path)
    reports = tmp_path / "reports"
    begin = time.perf_counter()
    assert_night_done(reports, finish(first), 0)
    usual = time.perf_counter() - begin
    rng = np.random.default_rng(5)
    killed = 0
    for number in range(1, KILLS + 1):
        job = Job(first.settings, first.plan, number)
        begin = time.perf_counter()
        process = start(job)
        process.join(float(rng.uniform(0.0, usual)))
        if process.is_alive():
            process.kill()
            process.join()
            killed += process.exitcode == -signal.SIGKILL
        else:  # a machine is not always as slow as in the first night
            usual = min(usual, time.perf_counter() - begin)
        assert_true_at_any_instant(reports, had_report=True)
        if number % 5 == 0:
            assert_night_done(reports, finish(job), number)
    assert killed > KILLS // 2
    assert_night_done(reports, finish(Job(first.settings, first.plan, KILLS)), KILLS)


def chosen_steps(names: list[str]) -> list[int]:
    """Steps to let a fault happen at: of files that are written or deleted alike every eighth, of others each."""
    return [number for number, name in enumerate(names, 1) if name not in ALIKE or number % 8 == 0]


@pytest.fixture(scope="module")
def later_night(shop, tmp_path_factory) -> list[int]:
    """Steps of a night that finds reports and deletes an old one."""
    first = settings_in(shop, tmp_path_factory.mktemp("count"))
    for number in range(2):
        finish(Job(first.settings, first.plan, number))
    names = finish(Job(first.settings, first.plan, 2, Fault("count")))["steps"]
    assert {"os.rename", "os.symlink", "os.remove", "swapping in", "sqlite3.connect", "fcntl.flock"} <= set(names)
    return chosen_steps(names)


def test_first_nights_killed_at_a_step(shop, tmp_path: Path) -> None:
    names = finish(settings_and_fault(shop, tmp_path / "count", Fault("count")))["steps"]
    for step in chosen_steps(names)[::3]:
        job = settings_and_fault(shop, tmp_path / str(step), Fault("kill", step))
        assert finish(job)["exit_code"] == -signal.SIGKILL
        reports = job.settings.with_name("reports")
        if reports.exists():
            assert_true_at_any_instant(reports, had_report=False)
        assert_night_done(reports, finish(replace(job, fault=None)), 0)


def test_later_nights_killed_at_a_step(shop, later_night: list[int], tmp_path: Path) -> None:
    job = settings_in(shop, tmp_path)
    reports = tmp_path / "reports"
    for number in range(2):
        finish(replace(job, number=number))
    for number, step in enumerate(later_night, 2):
        assert finish(replace(job, number=number, fault=Fault("kill", step)))["exit_code"] == -signal.SIGKILL
        assert_true_at_any_instant(reports, had_report=True)
        assert_night_done(reports, finish(replace(job, number=number)), number)


def test_nights_without_room_on_the_disk(shop, later_night: list[int], tmp_path: Path) -> None:
    job = settings_in(shop, tmp_path)
    reports = tmp_path / "reports"
    for number in range(2):
        finish(replace(job, number=number))
    for number, step in enumerate(later_night[::2], 2):
        before = (reports / "latest").readlink()
        line = finish(replace(job, number=number, fault=Fault("full", step)))
        assert line["exit_code"] == 0, "a traceback"
        assert_true_at_any_instant(reports, had_report=True)
        if line["status"] == "failed":
            assert line["exit_status"] == 1
            assert "No space left on device" in line["message"]
            assert "\n" not in line["message"]
            assert line["last_good"]["as_of"] == "2026-06-20"
            assert (reports / "latest").readlink() == before or line["last_good"]["report"].endswith("report.html")
        assert_night_done(reports, finish(replace(job, number=number)), number)


@pytest.mark.parametrize(("stage", "arrives"), [("recipient", "by the next night"), ("accepted", "already")])
def test_nights_killed_while_their_mail_is_sent(shop, tmp_path: Path, stage: str, arrives: str) -> None:
    job = settings_in(shop, tmp_path)
    with counting_server() as (box, port):
        job.settings.write_text(job.settings.read_text() + MAIL.format(port=port))
        process = start(job)
        box.aim = (stage, 0.0, process.pid or 0, signal.SIGKILL)
        process.join()
        assert process.exitcode == -signal.SIGKILL
        assert bool(box.arrived) == (arrives == "already")
        line = finish(job)
        assert finish(job)["status"] == "unchanged"
    assert line["status"] == "unchanged"
    assert line["deliveries"][0]["delivered"] == (arrives == "by the next night")
    assert ("it is not known whether" in line["deliveries"][0]["said"]) == (arrives == "already")
    assert sorted(box.arrived.values()) == [1, 1]


def test_a_night_stopped_while_its_mail_is_sent_keeps_its_report(shop, tmp_path: Path) -> None:
    job = settings_in(shop, tmp_path)
    with counting_server() as (box, port):
        job.settings.write_text(job.settings.read_text() + MAIL.format(port=port))
        said(job.settings).unlink(missing_ok=True)
        process = start(job)
        box.aim = ("greeted", 0.0, process.pid or 0, signal.SIGTERM)
        process.join()
        line = json.loads(said(job.settings).read_text())
        assert (process.exitcode, line["status"], line["message"]) == (0, "stopped", "stopped by SIGTERM")
        assert line["last_good"]["as_of"] == "2026-06-20"
        assert finish(job)["deliveries"][0]["delivered"]
    assert sorted(box.arrived.values()) == [1, 1]
