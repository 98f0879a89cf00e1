"""A file written whole or not at all, whatever happens to the one who writes it."""

from __future__ import annotations

import os
import random
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest

from draincurve.pipeline.atomic_file import PART, staged_file, write_atomically

KILLS = 25
WRITING = """
import sys
from pathlib import Path
from draincurve.pipeline.atomic_file import write_atomically
number = 0
while True:
    number += 1
    write_atomically(Path(sys.argv[1]), f"{number} ".encode() * 20000, mode=0o644)
    if number == 1:
        print("begun", flush=True)
"""


def test_killed_at_any_instant_it_is_one_whole_file(tmp_path):
    path = tmp_path / "file"
    chance = random.Random(20260620)
    seen = set()
    for _ in range(KILLS):
        with subprocess.Popen(
            [sys.executable, "-c", WRITING, str(path)], stdout=subprocess.PIPE, cwd=Path(__file__).parents[2]
        ) as process:
            assert process.stdout is not None
            process.stdout.readline()
            time.sleep(chance.uniform(0.0, 0.05))
            os.kill(process.pid, signal.SIGKILL)
        numbers = path.read_text().split()
        assert len(numbers) == 20000
        assert len(set(numbers)) == 1
        seen.add(numbers[0])
    assert len(seen) > 1, "killed at instants that differ"
    assert all(item == path or item.name.endswith(PART) for item in tmp_path.iterdir())


def test_a_fault_in_the_look_at_it_leaves_the_old_one(tmp_path):
    path = tmp_path / "file"
    path.write_text("old")

    def looked_at() -> None:
        with staged_file(path, b"new", mode=0o644) as staged:
            assert staged.read_bytes() == b"new"
            raise ValueError("not this one")

    with pytest.raises(ValueError, match="not this one"):
        looked_at()
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_rights_and_links(tmp_path):
    path, link = tmp_path / "file", tmp_path / "link"
    link.symlink_to(path)
    write_atomically(link, b"new", mode=0o640)
    assert link.is_symlink()
    assert path.read_bytes() == b"new"
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


def test_a_folder_that_is_not_there(tmp_path):
    with pytest.raises(OSError, match="No such file"):
        write_atomically(tmp_path / "gone" / "file", b"new", mode=0o644)


def test_a_name_as_long_as_names_get(tmp_path):
    path = tmp_path / ("n" * 255)
    write_atomically(path, b"new", mode=0o644)
    assert path.read_bytes() == b"new"
