"""The allocator's setting for large files, which must come before polars is loaded."""

import os
import platform
import subprocess
import sys

import pytest

from draincurve.pipeline import memory_release
from draincurve.pipeline.memory_release import release_at_once_if_large
from draincurve.pipeline.processing import LogProcessing
from draincurve.pipeline.stopwatch import Stopwatch

SETTING = "_RJEM_MALLOC_CONF"
FROM_TEN_BYTES = LogProcessing(release_bytes=10)


@pytest.fixture
def environment(monkeypatch):
    monkeypatch.setattr(os, "environ", {})
    return os.environ


def test_a_large_file_sets_it_and_nothing_else_does(environment, tmp_path):
    small, large = tmp_path / "small.csv", tmp_path / "large.csv"
    small.write_bytes(b"x" * 9)
    large.write_bytes(b"x" * 10)
    nothing = ("x" * 5_000, "a\0b", "postgresql://bench@localhost/shop#drains", str(tmp_path / "none"))
    for log in (str(small), str(tmp_path), *nothing):
        release_at_once_if_large(log, processing=FROM_TEN_BYTES)
    assert SETTING not in environment
    release_at_once_if_large(str(large), processing=FROM_TEN_BYTES)
    assert "dirty_decay_ms:0" in environment[SETTING]


def test_what_the_caller_says_stands(environment, tmp_path):
    (tmp_path / "large.csv").write_bytes(b"x" * 10)
    environment[SETTING] = "narenas:1"
    release_at_once_if_large(str(tmp_path / "large.csv"), processing=FROM_TEN_BYTES)
    assert environment[SETTING] == "narenas:1"


def test_memory_is_asked_back_after_every_stage_where_the_library_can(monkeypatch):
    asked = []
    monkeypatch.setattr(memory_release, "_trim", lambda: asked.append)
    watch = Stopwatch(lambda _: None)
    for stage in ("reading", "checking"):
        with watch.stage(stage):
            pass
    assert asked == [0, 0]
    monkeypatch.setattr(memory_release, "_trim", lambda: None)
    memory_release.release_free_memory()


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="a call of the GNU C library")
def test_the_library_here_has_the_call():
    assert memory_release._trim() is not None


def test_no_command_loads_polars_before_it_runs():
    said = "import sys, draincurve.cli; print('polars' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", said], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
