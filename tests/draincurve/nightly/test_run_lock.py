"""One run at a time: a live holder turns others away, a dead one does not."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from draincurve.nightly.run_lock import LOCK, LockedError, one_at_a_time

HOLDER = """
import sys, time
from pathlib import Path
from draincurve.nightly.run_lock import one_at_a_time
with one_at_a_time(Path(sys.argv[1]), "process of the test"):
    print("held", flush=True)
    time.sleep(60)
"""


@pytest.fixture
def holder(tmp_path: Path):
    process = subprocess.Popen([sys.executable, "-c", HOLDER, str(tmp_path)], stdout=subprocess.PIPE, text=True)
    with process:
        assert process.stdout is not None
        assert process.stdout.readline() == "held\n"
        yield process
        process.kill()


def test_a_live_holder_turns_others_away_and_is_named(tmp_path: Path, holder) -> None:
    with (
        pytest.raises(LockedError, match=r"another run is at work there \(process of the test\); wait"),
        one_at_a_time(tmp_path, "another"),
    ):
        pass


def test_the_lock_of_a_killed_process_is_free_at_once(tmp_path: Path, holder) -> None:
    holder.kill()
    holder.wait()
    assert (tmp_path / LOCK).read_text() == "process of the test"
    with one_at_a_time(tmp_path, "the next"):
        assert (tmp_path / LOCK).read_text() == "the next"


def test_it_is_free_again_after_a_fault(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="fault"), one_at_a_time(tmp_path / "new", "first"):
        raise ValueError("fault")
    with (
        one_at_a_time(tmp_path / "new", "second"),
        pytest.raises(LockedError),
        one_at_a_time(tmp_path / "new", "third"),
    ):
        pass
