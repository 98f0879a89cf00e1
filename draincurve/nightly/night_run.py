"""One run of the nightly job: its settings, its day, when it began and how long it may take."""

from __future__ import annotations

import time
from dataclasses import dataclass
from datetime import date

from draincurve.nightly.night_clock import Moment
from draincurve.pipeline.stopwatch import Progress
from draincurve.schemas.nightly_settings import NightlyFile


@dataclass(frozen=True, slots=True)
class NightRun:
    """One run of the nightly job.

    as_of : day that the user set, else None; force : make the report anew even if nothing has changed; started :
    when the run began; started_s : the same by the performance counter [s]; progress : called with each stage
    """

    file: NightlyFile
    as_of: date | None
    force: bool
    started: Moment
    started_s: float
    progress: Progress

    @property
    def seconds(self) -> float:
        """Seconds since the run began."""
        return time.perf_counter() - self.started_s

    @property
    def deadline_s(self) -> float:
        """Seconds that the night may take."""
        return self.file.settings.schedule.night_deadline_s

    @property
    def left_s(self) -> float:
        """Seconds that are left to the night."""
        return self.deadline_s - self.seconds
