"""The first step: the inputs of a run, and the log that is read from them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

from draincurve.pipeline.processing import EVERY_LOG, FleetProcessing, LogProcessing
from draincurve.pipeline.reading.cleaning.header_meaning import header_columns
from draincurve.pipeline.reading.cleaning.headers import header_positions
from draincurve.pipeline.reading.sources.addresses import SourceAddress
from draincurve.pipeline.reading.sources.read_tables import read_log, read_table
from draincurve.pipeline.reading.sources.reading_options import ReadingOptions
from draincurve.pipeline.reading.sources.source_table import SourceTable
from draincurve.pipeline.reading.validating.checked_log import Log, check_log
from draincurve.pipeline.stopwatch import Stopwatch
from draincurve.schemas.channels import CHANNELS
from draincurve.schemas.columns import TABLES
from draincurve.schemas.errors import SourceError
from draincurve.schemas.settings import Settings, read_settings

_EXPECTED = {
    "units": "the register, one row for each unit",
    "oils": "the oils, one row for each oil grade",
    "parts": "parts, one row for each",
}
"""Side tables that need so few columns that another table could pass for them, and what they are."""
_CLOCKS = {"oil_hours", "meter_hours"}


@dataclass(frozen=True, slots=True)
class RunInputs:
    """The inputs of a run.

    log : address of the log, or its table of drains where that is read already; as_of : day the answers are for
    sides : the same for each side table, by its name; settings : the settings or their file, None for the defaults
    engine : where a large fleet is processed, as `engine_at` takes it, None for this process
    log_processing, processing : how the log and its fleet are processed, None for what the fleet's size calls for
    hidden : whether hidden sheets and hidden rows of a workbook are read
    """

    log: SourceAddress | SourceTable
    as_of: date
    sides: Mapping[str, SourceAddress | SourceTable] = field(default_factory=dict)
    settings: Path | Settings | None = None
    engine: str | None = None
    log_processing: LogProcessing = EVERY_LOG
    processing: FleetProcessing | None = None
    hidden: bool = False

    @property
    def log_name(self) -> str:
        """The name of the log, as a report shows it."""
        return self.log.source if isinstance(self.log, SourceTable) else self.log.label

    def policy(self) -> Settings:
        """The settings themselves. Raises SettingsError for a file that cannot be used."""
        return self.settings if isinstance(self.settings, Settings) else read_settings(self.settings)


def read(inputs: RunInputs, settings: Settings, *, watch: Stopwatch | None = None) -> Log:
    """The log, cleaned and validated: rows accepted, rows held back with their reasons, and what is asked.

    Raises SourceError for input that cannot be used as a whole; a bad row never stops a run.
    """
    watch = watch or Stopwatch()
    with watch.stage("reading"):
        tables = read_tables(inputs, settings)
    with watch.stage("checking"):
        log = check_log(tables, settings, as_of=inputs.as_of, processing=inputs.log_processing)
        return replace(log, name=inputs.log_name)


def read_tables(inputs: RunInputs, settings: Settings) -> dict[str, SourceTable]:
    """Every table of a run: those in the log's own workbook or database, replaced by those that are given.

    Raises SourceError for what cannot be read.
    """
    how = ReadingOptions(columns_of=header_columns(settings), hidden=inputs.hidden, processing=inputs.log_processing)
    log = inputs.log
    tables = {"drains": log} if isinstance(log, SourceTable) else read_log(log, how)
    sides = {
        name: side if isinstance(side, SourceTable) else read_table(side, name, how)
        for name, side in inputs.sides.items()
    }
    for name in sides:
        if name in _EXPECTED:
            _check_kind(sides[name], name, settings)
    return tables | sides


def _check_kind(given: SourceTable, name: str, settings: Settings) -> None:
    """Raises SourceError for a side table whose headers are those of another table.

    It has all that a table of drains needs, or it has what another table needs and no column that only its own has.
    """
    own_columns = _columns(given, name, settings)
    for other in (table for table in TABLES if table != name):
        columns = _columns(given, other, settings)
        ratings = {channel.rating for channel in CHANNELS} & columns
        needed = {column.name for column in TABLES[other] if column.required or column.header_needed}
        if other == "drains":
            is_other = bool(ratings) and "drained_on" in columns and not columns.isdisjoint(_CLOCKS)
        else:
            is_other = needed <= columns and own_columns < columns
        if is_other:
            shown = ["drained_on", min(ratings)] if other == "drains" else sorted(columns - own_columns)[:2]
            raise SourceError(
                f"{name}: {given.source} has the columns of a table of {other} ({', '.join(shown)}); "
                f"expected {_EXPECTED[name]}"
            )


def _columns(given: SourceTable, table: str, settings: Settings) -> set[str]:
    """The columns that the headers mean in a table; none where they are ambiguous."""
    try:
        return set(header_positions(given.typed_headers, table, settings.headers))
    except SourceError:
        return set()
