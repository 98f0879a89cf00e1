"""What has been delivered of a report, receiver by receiver, so that nothing is sent twice."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Protocol


class SendingState(StrEnum):
    """How far a report has come to a receiver. Without a state it has not been sent.

    HANDING_OVER : its last line was about to go out when this was recorded; if nothing came after that, it is not
    known whether the report arrived
    """

    HANDING_OVER = "handing over"
    SENT = "sent"


class DeliveryRecord(Protocol):
    """The record of one report's sendings. way : "mail" or "webhook"; every change is kept before it returns."""

    def states(self, way: str) -> Mapping[str, SendingState]:
        """The state of each receiver that has one."""

    def write(self, way: str, receivers: Iterable[str], *, state: SendingState) -> None:
        """Record a state. Raises PermanentError where it cannot be kept."""

    def withdraw(self, way: str, receivers: Iterable[str]) -> None:
        """Delete the states of receivers whom the report surely did not reach."""


@dataclass(slots=True)
class InMemoryRecord:
    """A record in memory, for a notification that no later night sends again."""

    kept: dict[tuple[str, str], SendingState] = field(default_factory=dict)

    def states(self, way: str) -> Mapping[str, SendingState]:
        """The state of each receiver that has one."""
        return {receiver: state for (recorded, receiver), state in self.kept.items() if recorded == way}

    def write(self, way: str, receivers: Iterable[str], *, state: SendingState) -> None:
        """Record a state."""
        self.kept |= {(way, receiver): state for receiver in receivers}

    def withdraw(self, way: str, receivers: Iterable[str]) -> None:
        """Delete the states of receivers."""
        for receiver in receivers:
            self.kept.pop((way, receiver), None)
