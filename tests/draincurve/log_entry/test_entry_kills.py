"""Two at once, and killed at any instant: every drain that was said to be added is there, whole, and no half one."""

from __future__ import annotations

import random
import signal
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from bench_logs import RULES, checked, csv_bytes, entry, write_log
from entry_child import adding

from draincurve.log_entry.csv_entry import add_to_csv
from draincurve.log_entry.drain_entry import EntryError
from draincurve.log_entry.folder_lock import locked_folder

KILLS = 3


def entries_in(path: Path) -> list[int]:
    """Numbers of the entries in a log, which must be nothing but whole rows behind those it began with."""
    content = path.read_bytes()
    assert content.startswith(csv_bytes())
    lines = content[len(csv_bytes()) :].decode().splitlines(keepends=True)
    assert all(line.endswith("\n") and line.count(",") == 9 for line in lines)
    return [int(line.rsplit(" ", 1)[1]) for line in lines]


def test_killed_at_any_instant_the_log_is_the_old_one_or_the_new_one(tmp_path):
    path = write_log(tmp_path)
    chance = random.Random(20260620)
    said: list[int] = []
    for kill in range(KILLS):
        with adding(path, kill * 20) as child:
            said.append(child.next_said())
            time.sleep(chance.uniform(0.0, 0.4))
            said += child.end(signal.SIGKILL)
        found = entries_in(path)
        assert set(said) <= set(found), "said to be in, and not there"
        assert len(found) == len(set(found))
        assert len(found) <= len(said) + kill + 1, "one at most was in before it could be said"
    add_to_csv(path, entry(oil_hours="30"), rules=RULES)
    assert checked(path).held_back.height == 0
    assert [item.name for item in tmp_path.iterdir()] == ["drains.csv"], "what the killed left is cleared"


def test_two_processes_at_once_both_land(tmp_path):
    path = write_log(tmp_path)
    with adding(path, 0) as one, adding(path, 1000) as other:
        said = [child.next_said() for _ in range(4) for child in (one, other)]
        for child in (one, other):
            child.end(signal.SIGTERM)
    assert set(said) <= set(entries_in(path))
    assert len(said) == 8


def test_many_threads_at_once_all_land(tmp_path):
    path = write_log(tmp_path)
    with ThreadPoolExecutor(4) as pool:
        added = list(
            pool.map(
                lambda number: add_to_csv(path, entry(oil_hours=str(number), note=f"e {number}"), rules=RULES),
                range(1, 9),
            )
        )
    assert sorted(entries_in(path)) == list(range(1, 9))
    assert len({item.location for item in added}) == 8


def test_a_folder_that_stays_locked_is_an_error_and_not_a_hang(tmp_path):
    with locked_folder(tmp_path), pytest.raises(EntryError, match="try again later"), locked_folder(tmp_path, 0.1):
        pass
    with locked_folder(tmp_path, 0.1):
        pass
