"""What is delivered after a night, and the outcome of delivering it."""

from __future__ import annotations

import hashlib
import math
import os
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Literal

from draincurve.reports.content.report_content import ReportContent

Sleep = Callable[[float], None]
Way = Literal["mail", "webhook", "publish", "metrics"]


@dataclass(frozen=True, slots=True)
class NightReport:
    """One night, whole or failed.

    run_id : name of the night, the same when it is delivered again
    started_at : with its time zone; the date of the mail
    content : what the report says; None where the night failed
    folder : holds the files of the new report; None where the night failed
    duration_s : from the start until the report was complete, or until the failure [s]
    fault : why the night failed, in one line; empty where it did not
    last_good_at : when the last good night ended, with its time zone; None where there was none
    """

    run_id: str
    started_at: datetime
    content: ReportContent | None
    folder: Path | None
    duration_s: float
    fault: str = ""
    last_good_at: datetime | None = None

    @property
    def status(self) -> Literal["done", "held back", "failed"]:
        """The status of the night, as in the line of JSON."""
        if self.content is None:
            return "failed"
        return "held back" if any(account.held_back for account in self.content.result.log.accounts) else "done"

    @property
    def delivery_id(self) -> str:
        """Name of this delivery, 32 hexadecimal digits: the run and its outcome, the same when delivered again."""
        named = "\x1f".join((self.run_id, self.status, self.fault))
        return hashlib.sha256(named.encode("utf-8", "surrogatepass")).hexdigest()[:32]


@dataclass(frozen=True, slots=True)
class DeliveryOutcome:
    """The outcome of one way of delivery.

    message : one line without any secret; left_out : files that were not attached, each with its reason
    """

    way: Way
    delivered: bool
    tries: int
    message: str
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class DeliveryContext:
    """What delivery needs from outside.

    base : folder of the settings file, which relative paths in it start from; environment : environment variables;
    sleep : waits for some seconds; night_ends : when the night's time is over [s of time.monotonic()]
    """

    base: Path
    environment: Mapping[str, str] = field(default_factory=lambda: os.environ, repr=False)
    sleep: Sleep = time.sleep
    night_ends: float = math.inf

    @property
    def left_s(self) -> float:
        """What is left of the night's time [s]."""
        return self.night_ends - time.monotonic()

    def within(self, named: str) -> Path:
        """A path from the settings: unchanged if absolute, else relative to the folder of the settings file."""
        return self.base / Path(named).expanduser()
