"""Settings of the nightly run in one TOML file: sources, output, policy, delivery, publish, schedule."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from draincurve.schemas.checked_settings import filled, switch, text, toml_table
from draincurve.schemas.delivery_settings import (
    DeliverySettings,
    PublishSettings,
    ScheduleSettings,
    checked_delivery,
)
from draincurve.schemas.errors import SettingsError
from draincurve.schemas.settings import Settings, checked_policy

LEDGER = "ledger.sqlite"

_ADDRESS = "a file, a pattern of files, or a table of a database"


@dataclass(frozen=True, slots=True)
class SourceSettings:
    """Where the tables come from; all but the log are optional."""

    log: str | None = text(None, f"the service log: {_ADDRESS}", example="drains.csv")
    units: str | None = text(None, "register of units", example="units.csv")
    usage: str | None = text(None, "hours ridden by unit and day", example="usage.csv")
    bookings: str | None = text(None, "booked events with planned hours", example="bookings.csv")
    oils: str | None = text(None, "oil grades and their viscosities", example="oils.csv")
    measurements: str | None = text(None, "measured values", example="measurements.csv")
    parts: str | None = text(None, "parts: when fitted, and the maker's longest life", example="parts.csv")
    hidden: bool = switch(False, "read the hidden sheets and rows of a workbook too")

    @property
    def sides(self) -> dict[str, str]:
        """The side tables that are given, by name."""
        names = ("units", "usage", "bookings", "oils", "measurements", "parts")
        given = {name: getattr(self, name) for name in names}
        return {name: address for name, address in given.items() if address is not None}


@dataclass(frozen=True, slots=True)
class OutputSettings:
    """Where the reports go."""

    folder: str = text(
        "reports", "folder of the reports and of the ledger; its link `latest` leads to the newest report"
    )
    site_reports: bool = switch(
        True, "where several sites are in the log, a report for each besides the one over all"
    )


@dataclass(frozen=True, slots=True)
class NightlySettings:
    """The tables of the file."""

    sources: SourceSettings = field(default_factory=SourceSettings)
    output: OutputSettings = field(default_factory=OutputSettings)
    policy: Settings = field(default_factory=Settings)
    delivery: DeliverySettings = field(default_factory=DeliverySettings)
    publish: PublishSettings = field(default_factory=PublishSettings)
    schedule: ScheduleSettings = field(default_factory=ScheduleSettings)


@dataclass(frozen=True, slots=True)
class NightlyFile:
    """The settings with their file, from whose folder relative paths start."""

    path: Path
    settings: NightlySettings

    @property
    def base(self) -> Path:
        """Folder that relative paths start from, absolute."""
        return self.path.absolute().parent

    @property
    def output_folder(self) -> Path:
        """Folder of the reports, absolute."""
        return self.base / Path(self.settings.output.folder).expanduser()

    @property
    def ledger(self) -> Path:
        """The ledger, absolute."""
        return self.output_folder / LEDGER


def read_nightly(path: Path) -> NightlyFile:
    """The settings of the nightly run.

    Raises SettingsError for a file that cannot be read, an unknown key (with the nearest known one), a value of the
    wrong kind or outside its possible range, a missing log, and for parts that do not fit each other.
    """
    settings: NightlySettings = filled(NightlySettings(), toml_table(path), str(path))
    if settings.sources.log is None:
        raise SettingsError(f"{path}: [sources] names no log; add log = 'drains.csv', or the path of yours")
    checked_policy(settings.policy, f"{path}: [policy.costs]")
    checked_delivery(settings.delivery, str(path))
    return NightlyFile(path, settings)
