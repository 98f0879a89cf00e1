"""`draincurve --help`: every command with a line that is not cut, and nothing loaded that it does not need."""

from __future__ import annotations

import os
import subprocess
import sys

HEAVY = ("numpy", "polars", "pandas", "matplotlib", "rich")


def test_help_lists_every_command_with_a_whole_line_and_loads_no_library_of_the_work() -> None:
    program = "import sys, atexit; atexit.register(lambda: print(sorted(sys.modules), file=sys.stderr))\n"
    program += "sys.argv[1:] = ['--help']; from draincurve.cli import main; main()"
    ran = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | {"COLUMNS": "80"},
    )
    listed = ran.stdout.split("Commands:\n")[1].splitlines()
    assert [line.split()[0] for line in listed] == [
        *("check", "add", "plan", "springs", "backtest", "oils", "nightly", "history", "schedule", "workbook"),
        *("bench-card", "demo", "simulate"),
    ]
    assert all(line.endswith((".", "?")) and not line.endswith("...") for line in listed)
    assert not [name for name in HEAVY if f"'{name}'" in ran.stderr]
