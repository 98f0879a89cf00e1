"""What a night hands over to be delivered, and what came of delivering it."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Literal

from draincurve.reports.content.report_content import ReportContent

Sleep = Callable[[float], None]


@dataclass(frozen=True, slots=True)
class NightReport:
    """One night, whole or failed.

    run_id : name of the night that stays the same when it is delivered again (the message and the POST carry it)
    started_at : with its time zone; the mail's date
    content : what the report says; None where the night failed
    folder : where the files of the new report lie; None where the night failed
    fault : the one line that says why the night failed; empty where it did not
    last_good_at : when the last good night ended, with its time zone; None where there was none
    duration_s : seconds from start to the report being whole, or to the failure
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
        """The night in one word or two, as the JSON line says it."""
        if self.content is None:
            return "failed"
        return "held back" if any(account.held_back for account in self.content.result.accounts) else "done"


@dataclass(frozen=True, slots=True)
class DeliveryOutcome:
    """What came of one way of delivery; `said` is one line without any secret.

    left_out : files that were not attached, each with its reason
    """

    way: Literal["mail", "webhook", "metrics"]
    delivered: bool
    tries: int
    said: str
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What delivery takes from outside: the settings file's folder, the environment, and how to wait.

    base : folder that relative paths in the settings start from
    """

    base: Path
    environment: Mapping[str, str] = field(default_factory=lambda: os.environ, repr=False)
    sleep: Sleep = time.sleep

    def within(self, named: str) -> Path:
        """A path of the settings: as it is where absolute, else from the settings file's folder."""
        return self.base / Path(named).expanduser()
