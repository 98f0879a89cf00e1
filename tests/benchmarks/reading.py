"""Reading and checking a log of 200,000 rows: the program beside pandas alone, and what each does with planted rows.

    python -m tests.benchmarks.reading [ROWS]

Fewer rows than 2,000 do not hold all that is planted.
"""

from __future__ import annotations

import inspect
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from statistics import median

from draincurve.pipeline.reading.read_inputs import RunInputs, read
from draincurve.pipeline.reading.sources.addresses import source_address
from draincurve.pipeline.reading.validating.checked_log import Log
from draincurve.schemas.settings import Settings
from tests.benchmarks import pandas_log
from tests.benchmarks.chapter import Chapter, Short, seconds, times
from tests.benchmarks.planted_log import AS_OF, Planted, PlantedLog, planted_log

ROWS = 200_000
DRAINS_A_UNIT = 20
TURNS = 7
NOT_DONE = """
pandas is given what it does best: one layout, one date format, whole columns at once. That code reads no units beside
numbers, no ranges, no other order of dates, no decimal commas and no everyday headings, asks about no near match and
no unlikely value, works no hours out from a meter, and says of no row why it is gone.
"""


@dataclass(frozen=True)
class Reading:
    """How a log is read, lines of the rows kept, and lines of the rows for which a reason is given."""

    again: Callable[[], object]
    kept: frozenset[int]
    explained: frozenset[int]


def by_the_program(log: PlantedLog) -> Reading:
    """`draincurve check`, without the start of the process."""

    def checked() -> Log:
        return read(RunInputs(source_address(str(log.path)), AS_OF), Settings())

    found = checked()
    lines = frozenset(found.held_back["line"].to_list())
    kept = frozenset(range(2, log.rows + 2)) - lines
    return Reading(checked, kept, lines)


def by_pandas(log: PlantedLog) -> Reading:
    """The shop's own code; it gives no reasons."""
    kept = pandas_log.read_with_pandas(log.path, AS_OF.isoformat())
    again = partial(pandas_log.read_with_pandas, log.path, AS_OF.isoformat())
    return Reading(again, frozenset(kept.index.to_list()), frozenset())


@dataclass(frozen=True)
class InTurns:
    """The median time of ours and of theirs [s], and of theirs as a multiple of ours in the same turn."""

    ours: float
    theirs: float
    times_ours: float


def in_turns(readings: Sequence[Reading]) -> InTurns:
    """Both ways measured in turns, so that what else the machine does slows both alike."""
    rounds: list[list[float]] = []
    for _ in range(TURNS):
        rounds.append([])
        for reading in readings:
            begin = time.perf_counter()
            reading.again()
            rounds[-1].append(time.perf_counter() - begin)
    ours, theirs = zip(*rounds, strict=True)
    return InTurns(median(ours), median(theirs), median(b / a for a, b in rounds))


def _counted(planted: tuple[Planted, ...], lines: frozenset[int]) -> int:
    """How many planted rows are among these lines."""
    return sum(line in lines for one in planted for line in one.lines)


def _by_kind(planted: tuple[Planted, ...], ours: Reading, theirs: Reading) -> list[str]:
    """A line for each kind that was planted, and how many of its rows each way keeps out, or keeps."""
    lines = []
    for one in planted:
        counts = [len(reading.kept.intersection(one.lines)) for reading in (ours, theirs)]
        verb = "kept" if one.is_right else "kept out"
        shown = counts if one.is_right else [len(one.lines) - count for count in counts]
        lines.append(f"| {verb}, of {len(one.lines)}: {one.what} | {shown[0]} | {shown[1]} |")
    return lines


def reading_beside_pandas(rows: int = ROWS) -> Chapter:
    """The chapter of the results."""
    with tempfile.TemporaryDirectory() as folder:
        log = planted_log(rows // DRAINS_A_UNIT, rows, Path(folder))
        ours, theirs = by_the_program(log), by_pandas(log)
        turns = in_turns((ours, theirs))
    wrong = tuple(one for one in log.planted if not one.is_right)
    right = tuple(one for one in log.planted if one.is_right)
    touched = frozenset(line for one in log.planted for line in one.lines)
    others = frozenset(range(2, log.rows + 2)) - touched
    kinds = _by_kind((*wrong, *right), ours, theirs)
    length = len(inspect.getsource(pandas_log.read_with_pandas).splitlines())
    n_wrong = sum(len(one.lines) for one in wrong)
    n_right = sum(len(one.lines) for one in right)
    lines = [
        f"## Reading and checking {log.rows:,} rows of CSV\n",
        f"Beside {length} lines of pandas that a shop would write for itself (`pandas_log.py`). Planted rows are of",
        "two sorts: those that cannot be right, and those that are right but typed another way.\n",
        "| what | draincurve | pandas alone |",
        "| --- | ---: | ---: |",
        f"| time, the median of {TURNS} turns | {seconds(turns.ours)} | {seconds(turns.theirs)} |",
        f"| times ours, the median of the turns | 1 | {times(turns.times_ours)} |",
        f"| rows kept | {len(ours.kept):,} | {len(theirs.kept):,} |",
        f"| wrong rows planted: kept out, of {n_wrong:,} | "
        f"{n_wrong - _counted(wrong, ours.kept):,} | {n_wrong - _counted(wrong, theirs.kept):,} |",
        f"| of those with line, column, value and reason | {_counted(wrong, ours.explained):,} | "
        f"{_counted(wrong, theirs.explained):,} |",
        f"| right rows typed another way: kept, of {n_right:,} | "
        f"{_counted(right, ours.kept):,} | {_counted(right, theirs.kept):,} |",
        f"| all other rows: kept, of {len(others):,} | {len(others & ours.kept):,} | {len(others & theirs.kept):,} |",
        *kinds,
        NOT_DONE,
    ]
    return Chapter("\n".join(lines), (_short(log, wrong, right, (ours, theirs), turns),))


def _short(
    log: PlantedLog,
    wrong: tuple[Planted, ...],
    right: tuple[Planted, ...],
    readings: tuple[Reading, Reading],
    turns: InTurns,
) -> Short:
    """Both ways in one line."""
    n_wrong, n_right = (sum(len(one.lines) for one in planted) for planted in (wrong, right))
    shown = [
        f"{seconds(duration)}; wrong rows explained: {_counted(wrong, reading.explained):,} of {n_wrong:,}; "
        f"rows typed another way kept: {_counted(right, reading.kept):,} of {n_right:,}"
        for reading, duration in zip(readings, (turns.ours, turns.theirs), strict=True)
    ]
    what = f"pandas alone: reading and checking {log.rows:,} rows of CSV"
    return Short(what, shown[0], shown[1], times(turns.times_ours))


if __name__ == "__main__":
    print(reading_beside_pandas(*(int(text) for text in sys.argv[1:2])).text)
