"""What must be true of an output folder at every instant, and after a night that came to its end."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

FILES = ("next_service.csv", "fleet_intervals.csv", "spring_effects.csv", "held_back.csv", "run.json", "report.html")


def assert_whole(report: Path, sites: int = 2) -> dict:
    """A report with every file to its end, one for each site among them; returns its record."""
    for folder in (report, *sorted((report / "sites").iterdir())):
        for name in FILES:
            content = (folder / name).read_bytes()
            assert content.endswith(b"\n") or content.endswith(b"</html>"), name
            assert not name.endswith("html") or content.rstrip().endswith(b"</html>"), name
    assert len(list((report / "sites").iterdir())) == sites
    return json.loads((report / "run.json").read_text())


def assert_true_at_any_instant(folder: Path, had_report: bool) -> None:
    """Every report that can be seen is whole, the link leads to one if there was one, the ledger is sound."""
    for item in folder.iterdir():
        if item.is_dir() and not item.name.startswith("."):
            assert_whole(item)
    if had_report:
        assert (folder / "latest").is_symlink()
        assert (folder / "latest" / "report.html").is_file()
    if (folder / "ledger.sqlite").exists() and (folder / "ledger.sqlite").stat().st_size:
        for name in good_folders(folder)[-1:]:
            assert (folder / name).is_dir()


def good_folders(folder: Path) -> list[str]:
    """Folders of the reports that the ledger knows, oldest first; a half-written transaction is rolled back."""
    ledger = sqlite3.connect(folder / "ledger.sqlite")
    try:
        assert ledger.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        if not ledger.execute("SELECT count(*) FROM sqlite_master WHERE name = 'runs'").fetchone()[0]:
            return []
        return [row[0] for row in ledger.execute("SELECT folder FROM runs WHERE status = 'good' ORDER BY run_id")]
    finally:
        ledger.close()


def assert_night_done(folder: Path, line: dict, number: int, units: int = 6) -> None:
    """The night came to its end: its report is linked and whole, nothing is left over, the ledger knows it last."""
    assert line["exit_code"] == 0, line
    assert line["status"] in ("done", "held back", "unchanged"), line
    latest = folder / "latest"
    assert assert_whole(latest)["settings"]["seed"] == number
    assert [item.name for item in folder.iterdir() if item.name.startswith(".building")] == []
    assert good_folders(folder)[-1] == latest.readlink().name
    ledger = sqlite3.connect(folder / "ledger.sqlite")
    assert ledger.execute("SELECT count(*) FROM runs WHERE status = 'running'").fetchone() == (0,)
    last = "(SELECT max(run_id) FROM runs WHERE status = 'good')"
    assert ledger.execute(f"SELECT count(*) FROM units WHERE run_id = {last}").fetchone()[0] == units
    ledger.close()
