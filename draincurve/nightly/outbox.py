"""The outbox of the ledger: the notification of the last report, and the receivers whom it has reached.

A state is committed, and on the disk, before the next step is taken: before the last line of a mail goes out, and as
soon as the server has accepted it. Why so: `docs/decisions/06-nightly.md`.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from draincurve.nightly.delivery.delivery_record import SendingState
from draincurve.nightly.delivery.notification import Notification
from draincurve.nightly.delivery.published_tables import KeptNight
from draincurve.nightly.delivery.retrying import PermanentError
from draincurve.nightly.ledger import transaction
from draincurve.nightly.ledger_queries import DISTINCT, LastGoodRun
from draincurve.reports.mail_and_calendar.report_mail import MailText

ALL_RECEIVERS = "*"
"""Receiver of a sending in old ledgers, which did not record receivers one by one: all of them."""


@dataclass(frozen=True, slots=True)
class Outbox:
    """The record of the sendings of one report. digest : of the report, as in the ledger."""

    ledger: sqlite3.Connection
    digest: str

    def states(self, way: str) -> Mapping[str, SendingState]:
        """The state of each receiver that has one."""
        query = "SELECT receiver, state FROM sendings WHERE digest = ? AND way = ?"
        states = {row[0]: SendingState(row[1]) for row in self.ledger.execute(query, (self.digest, way))}
        return _SameForAll(states[ALL_RECEIVERS]) if ALL_RECEIVERS in states else states

    def write(self, way: str, receivers: Iterable[str], *, state: SendingState) -> None:
        """Record a state. Raises PermanentError where it cannot be kept."""
        rows = [(self.digest, way, receiver, state, _now()) for receiver in receivers]
        with _recorded(self.ledger, state):
            self.ledger.executemany("INSERT OR REPLACE INTO sendings VALUES (?, ?, ?, ?, ?)", rows)

    def withdraw(self, way: str, receivers: Iterable[str]) -> None:
        """Delete the states of receivers whom the report surely did not reach. Raises PermanentError."""
        rows = [(self.digest, way, receiver) for receiver in receivers]
        with _recorded(self.ledger, None):
            self.ledger.executemany("DELETE FROM sendings WHERE digest = ? AND way = ? AND receiver = ?", rows)

    def forget(self) -> None:
        """Delete every state, so that all are sent the report again."""
        with transaction(self.ledger):
            self.ledger.execute("DELETE FROM sendings WHERE digest = ?", (self.digest,))


class _SameForAll(dict[str, SendingState]):
    """The same state for every receiver."""

    def __init__(self, state: SendingState) -> None:
        super().__init__({ALL_RECEIVERS: state})

    def __contains__(self, receiver: object) -> bool:
        return True


def keep_notification(ledger: sqlite3.Connection, run_id: int, notification: Notification) -> None:
    """Keep the notification of a good run, in the caller's transaction; those of older reports are deleted."""
    mail = notification.mail
    ledger.execute("DELETE FROM letters")
    ledger.execute(
        "INSERT INTO letters VALUES (?, ?, ?, ?, ?, ?, ?)",
        (
            run_id,
            notification.name,
            notification.started_at.isoformat(),
            mail.subject,
            mail.text,
            mail.html,
            notification.body,
        ),
    )
    ledger.execute("DELETE FROM sendings WHERE digest NOT IN (SELECT digest FROM runs WHERE run_id = ?)", (run_id,))


def notification_of_run(ledger: sqlite3.Connection, run_id: int, folder: Path) -> Notification | None:
    """The notification of a run, None where it has none; folder : of its report."""
    query = "SELECT name, started, subject, text, html, body FROM letters WHERE run_id = ?"
    row = ledger.execute(query, (run_id,)).fetchone()
    if row is None:
        return None
    name, started, subject, text, html, body = row
    return Notification(name, datetime.fromisoformat(started), MailText(subject, text, html), body, folder)


def kept_nights(ledger: sqlite3.Connection, folder: Path) -> tuple[KeptNight, ...]:
    """The nights whose reports are still in the folder, oldest first; of several on the same inputs, the last."""
    query = f"SELECT digest, as_of, started, folder FROM runs WHERE {DISTINCT} ORDER BY run_id"
    nights = (
        KeptNight(digest, date.fromisoformat(as_of), datetime.fromisoformat(started), folder / name)
        for digest, as_of, started, name in ledger.execute(query)
    )
    return tuple(night for night in nights if night.folder.is_dir())


def undelivered_warnings(ledger: sqlite3.Connection, last: LastGoodRun) -> tuple[str, ...]:
    """A sentence where the last report did not reach everybody, since a new one takes its place now."""
    query = (
        "SELECT way, delivered FROM deliveries JOIN runs USING (run_id) "
        "WHERE digest = ? AND way NOT IN ('publish', 'metrics') ORDER BY deliveries.rowid"
    )
    states = {way: bool(delivered) for way, delivered in ledger.execute(query, (last.digest,))}
    as_of = ledger.execute("SELECT as_of FROM runs WHERE run_id = ?", (last.run_id,)).fetchone()[0]
    day = date.fromisoformat(as_of).isoformat()
    return tuple(
        f"The report of {day} was not delivered to everybody by {way}; this one takes its place."
        for way, delivered in states.items()
        if not delivered
    )


@contextmanager
def _recorded(ledger: sqlite3.Connection, state: SendingState | None) -> Iterator[None]:
    try:
        with transaction(ledger):
            yield
    except sqlite3.Error as fault:
        what = "it was sent, but" if state is SendingState.SENT else "nothing was sent:"
        raise PermanentError(f"{what} the ledger cannot record it ({fault}); check space and rights") from fault


def _now() -> str:
    return datetime.now().astimezone().isoformat(timespec="seconds")
