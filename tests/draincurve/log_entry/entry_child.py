"""Drains added in a child process, which may be killed meanwhile."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path

from bench_logs import RULES, entry
from forked_children import CONTEXT

from draincurve.log_entry import sqlite_entry
from draincurve.log_entry.csv_entry import add_to_csv


@dataclass(frozen=True)
class Adding:
    """A child that adds drain after drain, and the numbers of those that it says are in."""

    process: BaseProcess
    numbers: Connection

    def next_said(self) -> int:
        """The next number, once it is said."""
        return int(self.numbers.recv())

    def end(self, number: signal.Signals) -> list[int]:
        """Ends the child by a signal; the numbers that were said and not yet heard."""
        os.kill(self.process.pid or 0, number)
        self.process.join(20)
        assert self.process.exitcode == -number, "it had ended by itself"
        heard = []
        while True:
            try:
                heard.append(self.next_said())
            except EOFError:
                return heard


@contextmanager
def adding(path: Path, first: int) -> Iterator[Adding]:
    """A child that adds drains to a CSV log, numbered from the first on."""
    numbers, said = CONTEXT.Pipe(duplex=False)
    process = CONTEXT.Process(target=_add_many, args=(path, first, said))
    process.start()
    said.close()
    try:
        yield Adding(process, numbers)
    finally:
        process.kill()
        process.join()


def _add_many(path: Path, first: int, said: Connection) -> None:
    for number in range(first, first + 400):
        add_to_csv(path, entry(oil_hours=f"{1 + number / 10:.1f}", note=f"entry {number}"), rules=RULES)
        said.send(number)


def add_and_die(path: Path) -> int | None:
    """Exit code of a child that adds a drain to a database and is killed before the commit."""
    process = CONTEXT.Process(target=_add_and_die, args=(path,))
    process.start()
    process.join(60)
    return process.exitcode


def _add_and_die(path: Path) -> None:
    sqlite_entry.questions_about = lambda *_, **__: os.kill(os.getpid(), signal.SIGKILL)
    sqlite_entry.add_to_sqlite(path, "drains", entry=entry(), rules=RULES)
