"""Reads thousands of mutated logs of every format, and reports each that ends in neither a log nor one clear line.

    python tests/fuzz_readers.py --count 5000 --seed 7

Files are made by a seeded generator, so that a number names one. They are read and checked by worker processes, whose
time and memory are measured; a worker that dies, or takes longer than the bound, names the file that it was at.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from malformed_files import (
    BYTE_FAULTS,
    TEXT_FAULTS,
    plain_csv,
    sound_csv,
    sound_parquet,
    sound_sqlite,
    sound_workbook,
    with_enormous_cell,
    with_parts_cut,
)
from mutated_workbooks import mutated_ods, mutated_workbook

LONGEST_SECONDS, MOST_BYTES = 20, 1_000_000_000
BATCH = 250


SOUND_WORKBOOK, SOUND_PARQUET = sound_workbook(), sound_parquet()


@dataclass(frozen=True)
class Outcome:
    """What became of one file; seconds : of processor time; peak : bytes of the worker's memory at most, so far."""

    number: int
    name: str
    outcome: str
    seconds: float
    peak: int

    @property
    def is_fault(self) -> bool:
        """Whether it ended in anything but a log or one clear line, or took too much."""
        return self.outcome not in ("read", "refused") or self.seconds > LONGEST_SECONDS or self.peak > MOST_BYTES


def mutated_file(seed: int, number: int, folder: Path) -> tuple[str, bytes]:
    """Name and content of one mutated log."""
    chance = random.Random(f"{seed}-{number}")
    kind = number % 20
    if kind < 9:
        marks = chance.choice((",", ";", "\t"))
        content = chance.choice(
            (sound_csv(marks), plain_csv(marks), sound_csv(marks, "cp1252"), sound_csv(marks, "utf-16"))
        )
        for fault in chance.sample(TEXT_FAULTS, chance.choice((1, 1, 2, 3))):
            content = fault(content, chance) if content else content
        if number % 180 == 0:
            content = with_enormous_cell(sound_csv(), chance)
        return chance.choice(("log.csv", "log.csv", "log.txt")), content
    if kind < 15:
        return "log.xlsx", mutated_workbook(SOUND_WORKBOOK, chance)
    if kind == 15:
        return "log.xlsx", chance.choice((with_parts_cut, *BYTE_FAULTS))(SOUND_WORKBOOK, chance)
    if kind < 18:
        return "log.parquet", chance.choice(BYTE_FAULTS)(SOUND_PARQUET, chance)
    if number % 100 == 18:
        return "log.ods", mutated_ods(chance)
    return "log.db", chance.choice(BYTE_FAULTS)(sound_sqlite(folder), chance)


def read_batch(seed: int, first: int, last: int, *, checked_every: int) -> None:
    """Read files one after the other in this process, and check some; print one line before and one after each."""
    import signal

    from draincurve.pipeline.reading import RunInputs, read, read_tables
    from draincurve.pipeline.reading.sources import source_address
    from draincurve.schemas.errors import SettingsError, SourceError
    from draincurve.schemas.settings import Settings

    with tempfile.TemporaryDirectory() as home:
        for number in range(first, last):
            name, content = mutated_file(seed, number, Path(home))
            path = Path(home) / name
            path.write_bytes(content)
            print(json.dumps([number, name]), flush=True)
            signal.alarm(20 * LONGEST_SECONDS)  # of a machine that is busy with other things
            start = _processor_seconds()
            try:
                inputs = RunInputs(source_address(str(path)), date(2026, 11, 20))
                if number % checked_every:
                    read_tables(inputs, Settings())
                    whole = True
                else:
                    whole = all(one.read == one.accepted + one.held_back for one in read(inputs, Settings()).accounts)
                outcome = "read" if whole else "a row is lost"
            except (SourceError, SettingsError):
                outcome = "refused"
            except Exception as fault:
                outcome = f"{type(fault).__name__}: {str(fault)[:300]}"
            signal.alarm(0)
            print(json.dumps([outcome, _processor_seconds() - start, _peak_bytes()]), flush=True)
            path.unlink()


def _peak_bytes() -> int:
    """The most memory of this process so far [bytes].

    Linux passes `ru_maxrss` on from the process that starts another one, so the peak of its own memory is read there.
    """
    status = Path("/proc/self/status")
    if status.exists():
        peak = next(line for line in status.read_text().splitlines() if line.startswith("VmHWM:"))
        return int(peak.split()[1]) * 1024
    import resource

    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


def _processor_seconds() -> float:
    """Processor time of this process and of those that it waited for."""
    return sum(os.times()[:4])


def outcomes(count: int, seed: int, *, workers: int, checked_every: int) -> Iterator[Outcome]:
    """What becomes of each file, in the order in which the workers are done.

    checked_every : one file in so many is not only read but also checked
    """
    todo = [(first, min(first + BATCH, count)) for first in range(0, count, BATCH)]
    environment = {**os.environ, "POLARS_MAX_THREADS": "1"}
    while todo:
        batches, todo = todo[:workers], todo[workers:]
        command = [sys.executable, __file__, "--seed", str(seed), "--checked-every", str(checked_every)]
        running = [
            subprocess.Popen(
                [*command, "--batch", str(first), str(last)],
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env=environment,
                text=True,
            )
            for first, last in batches
        ]
        for (_, last), process in zip(batches, running, strict=True):
            said, _ = process.communicate()
            lines = [json.loads(line) for line in said.splitlines()]
            for (number, name), (outcome, seconds, peak) in zip(lines[::2], lines[1::2], strict=False):
                yield Outcome(number, name, outcome, seconds, peak)
            if process.returncode:
                number, name = lines[-1] if len(lines) % 2 else (-1, "the worker's start")
                yield Outcome(number, name, f"the worker ended with {process.returncode}", 0.0, 0)
                if 0 <= number < last - 1:
                    todo.append((number + 1, last))


def main() -> int:
    """Run from the command line; exit status 1 where a file is at fault."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--checked-every", type=int, default=1)
    parser.add_argument("--batch", type=int, nargs=2, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.batch:
        read_batch(given.seed, *given.batch, checked_every=given.checked_every)
        return 0
    found = list(outcomes(given.count, given.seed, workers=given.workers, checked_every=given.checked_every))
    faults = [one for one in found if one.is_fault]
    for one in faults:
        print(f"file {one.number} ({one.name}), {one.seconds:.1f} s, {one.peak / 1e6:.0f} MB: {one.outcome}")
    ends = Counter((one.name.rpartition(".")[2], one.outcome if not one.is_fault else "at fault") for one in found)
    for (kind, end), number in sorted(ends.items()):
        print(f"{kind:8} {end:10} {number:6,}")
    print(
        f"{len(found):,} files, {len(faults)} at fault; the slowest took {max(one.seconds for one in found):.1f} s, "
        f"the most memory was {max(one.peak for one in found) / 1e6:.0f} MB"
    )
    return 1 if faults else 0


if __name__ == "__main__":
    raise SystemExit(main())
