"""The inputs of a night, and the digest of everything that its report depends on."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from datetime import date

from draincurve.pipeline.plan_result import PlanResult, versions_here
from draincurve.pipeline.reading import RunInputs, read_tables
from draincurve.pipeline.reading.sources import source_address
from draincurve.schemas.nightly_settings import NightlyFile, NightlySettings
from draincurve.schemas.settings import settings_as_dict


def night_inputs(file: NightlyFile, as_of: date) -> RunInputs:
    """Tables and settings of a night; relative paths start from the folder of the settings file."""
    sources = file.settings.sources

    return RunInputs(
        log=source_address(sources.log or "", file.base),
        as_of=as_of,
        sides={name: source_address(address, file.base) for name, address in sources.sides.items()},
        settings=file.settings.policy,
        hidden=sources.hidden,
    )


def digest_of_inputs(inputs: RunInputs, settings: NightlySettings) -> str:
    """Digest of the report that these inputs would give, from their bytes. Raises SourceError."""
    tables = read_tables(inputs, inputs.policy()).values()
    named = ((table.table, table.source, table.sha256) for table in tables)
    return _digest(inputs.as_of, settings, versions_here(), named)


def digest_of_result(result: PlanResult, settings: NightlySettings) -> str:
    """The same digest for a report, from what its run read."""
    named = ((account.table, account.source, account.sha256) for account in result.log.accounts)
    return _digest(result.as_of, settings, result.versions, named)


def _digest(
    as_of: date, settings: NightlySettings, versions: Mapping[str, str], tables: Iterable[tuple[str, str, str]]
) -> str:
    """SHA-256 over day, settings, versions and tables, but not over where the report goes.

    tables : name, source and digest of each
    """
    all_of_it = {
        "as_of": as_of.isoformat(),
        "policy": settings_as_dict(settings.policy),
        "site_reports": settings.output.site_reports,
        "hidden": settings.sources.hidden,
        "versions": dict(versions),
        "tables": sorted(tables),
    }
    return hashlib.sha256(json.dumps(all_of_it, sort_keys=True).encode()).hexdigest()
