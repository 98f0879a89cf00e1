"""Dated reports and the link to the newest: whole or not there, N kept, never the linked one deleted."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from draincurve.reports.output.dated_reports import LATEST, clear_leftovers, delete_old, latest_report, new_report

DAY = date(2026, 6, 20)


def add(folder: Path, text: str = "report") -> Path:
    with new_report(folder, DAY) as (staged, target):
        (staged / "report.html").write_text(text)
    return target


def test_a_report_appears_when_it_is_whole_and_the_link_leads_to_it(tmp_path: Path) -> None:
    assert latest_report(tmp_path) is None
    with new_report(tmp_path, DAY) as (staged, target):
        (staged / "report.html").write_text("one")
        assert latest_report(tmp_path) is None
        assert not target.exists()
    assert latest_report(tmp_path) == target == tmp_path / "2026-06-20_0001"
    assert (tmp_path / LATEST).readlink() == Path(target.name)
    assert (tmp_path / LATEST / "report.html").read_text() == "one"
    assert add(tmp_path).name == "2026-06-20_0002"


def test_a_fault_leaves_the_last_report_and_nothing_else(tmp_path: Path) -> None:
    first = add(tmp_path)
    with pytest.raises(FileNotFoundError), new_report(tmp_path, DAY) as (staged, _):
        (staged / "report.html").rename(staged / "missing" / "report.html")
    assert latest_report(tmp_path) == first
    assert {item.name for item in tmp_path.iterdir()} == {first.name, LATEST}


def test_a_report_that_a_person_has_open_is_not_changed_under_them(tmp_path: Path) -> None:
    first = add(tmp_path, "old")
    with (first / "report.html").open() as reader:
        add(tmp_path, "new")
        assert reader.read() == "old"


def test_n_reports_are_kept(tmp_path: Path) -> None:
    made = [add(tmp_path).name for _ in range(6)]
    (tmp_path / "notes of the shop").mkdir()
    assert delete_old(tmp_path, 2) == made[:4]
    assert {item.name for item in tmp_path.iterdir()} == {*made[4:], LATEST, "notes of the shop"}


def test_the_linked_report_is_never_deleted(tmp_path: Path) -> None:
    made = [add(tmp_path) for _ in range(4)]
    (tmp_path / LATEST).unlink()
    (tmp_path / LATEST).symlink_to(made[0].name)
    assert delete_old(tmp_path, 1) == [item.name for item in made[1:3]]
    assert latest_report(tmp_path) == made[0]


def test_numbers_go_on_after_old_reports_are_deleted(tmp_path: Path) -> None:
    for _ in range(3):
        add(tmp_path)
        delete_old(tmp_path, 1)
    assert add(tmp_path).name == "2026-06-20_0004"


def test_leftovers_of_killed_runs_are_cleared_and_nothing_else(tmp_path: Path) -> None:
    kept = add(tmp_path)
    (tmp_path / ".building-abc" / "sites").mkdir(parents=True)
    (tmp_path / ".building-latest").symlink_to("nowhere")
    (tmp_path / ".lock").touch()
    clear_leftovers(tmp_path)
    assert {item.name for item in tmp_path.iterdir()} == {kept.name, LATEST, ".lock"}


def test_a_link_to_nowhere_is_no_report(tmp_path: Path) -> None:
    (tmp_path / LATEST).symlink_to("2026-06-19_0009")
    assert latest_report(tmp_path) is None
    assert latest_report(tmp_path / "missing") is None
