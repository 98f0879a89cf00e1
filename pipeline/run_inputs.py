"""What a run is given, and how its stages are timed and told."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from draincurve.pipeline.memory_release import release_free_memory
from draincurve.pipeline.processing import EVERY_LOG, FleetProcessing, LogProcessing
from draincurve.pipeline.reading.sources import SourceAddress, SourceTable, read_log, read_table
from draincurve.pipeline.reading.validating.checked_log import CheckedLog, check_log
from draincurve.schemas.settings import Settings, read_settings

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class RunInputs:
    """Where a run reads: log, side tables by name, policy or its file; the day the answers are for; its engine.

    engine : where a large fleet is worked on, as `engine_at` takes it, None for here; reading, processing : how the
    log and its fleet are processed, None for what the fleet's size calls for
    """

    log: SourceAddress
    as_of: date
    sides: Mapping[str, SourceAddress] = field(default_factory=dict)
    settings: Path | Settings | None = None
    engine: str | None = None
    reading: LogProcessing = EVERY_LOG
    processing: FleetProcessing | None = None


@dataclass
class Stopwatch:
    """Seconds of each stage; tells `progress` when a stage begins, and has memory given back when it ends."""

    progress: Progress
    seconds: dict[str, float] = field(default_factory=dict)

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        """Time one stage."""
        self.progress(name)
        begin = time.perf_counter()
        yield
        release_free_memory()
        self.seconds[name] = self.seconds.get(name, 0.0) + time.perf_counter() - begin


def silent(_: str) -> None:
    """Progress that nobody watches."""


def read_tables(inputs: RunInputs) -> dict[str, SourceTable]:
    """Every table of a run: those in the log's own workbook or database, under those that are given.

    Raises SourceError for what cannot be read.
    """
    how = inputs.reading
    tables = read_log(inputs.log, processing=how)
    return tables | {name: read_table(address, name, processing=how) for name, address in inputs.sides.items()}


def read_and_check(inputs: RunInputs, watch: Stopwatch) -> tuple[Settings, CheckedLog]:
    """Settings and the validated log.

    Raises SourceError and SettingsError for input that cannot be used as a whole; a bad row never stops a run.
    """
    given = inputs.settings
    settings = given if isinstance(given, Settings) else read_settings(given)
    with watch.stage("reading"):
        tables = read_tables(inputs)
    with watch.stage("checking"):
        return settings, check_log(tables, settings, inputs.as_of, processing=inputs.reading)
