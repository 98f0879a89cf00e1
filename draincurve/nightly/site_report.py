"""The report of one site: its units, from the one fit over all sites."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Collection, Mapping
from dataclasses import fields, replace
from typing import Any

import polars as pl

from draincurve.pipeline.deciding import NextSample, UnitCurve, WearResult
from draincurve.pipeline.judging import ChannelResult
from draincurve.pipeline.judging.changepoints import UnitChangepoints
from draincurve.pipeline.judging.legs import LegResult
from draincurve.pipeline.judging.volume import VolumeResult
from draincurve.pipeline.plan_result import PlanResult
from draincurve.pipeline.processing import fleet_processing
from draincurve.reports.content.report_changes import ReportChanges, UnitName
from draincurve.reports.content.unit_names import UnitNames, unit_names

NO_SITE = "units without a site"
_NO_SITE_FOLDER = "~without-site"
WHOLE_LOG = (
    "fits, curves, springs, raters, row accounting and rows held back are those of the whole log; the forecast "
    "counts the whole fleet and is in the report over all"
)
_SAFE_NAME = re.compile(r"\w(?:[\w \-]{0,58}\w)?")

Site = str | None


def units_by_site(result: PlanResult) -> dict[Site, frozenset[str]]:
    """Keys of the units of each site, in the order of the sites' names; None, the last, has the units without a site.

    A unit belongs to the site where it is in service, else to the site of its last drain. Sites without a unit in
    service or to inspect are left out. Nothing is returned where only one site remains: its report would be that of
    the whole log.
    """
    names = unit_names(result)
    home: dict[str, Site] = {}
    wanted: set[Site] = set()
    for unit_id, site in result.decided.next_service.select("unit_id", "site").iter_rows():
        home[names.of(unit_id, site)] = site
        wanted.add(site)
    last = (
        result.described.drains.sort("drained_on", maintain_order=True)
        .group_by("unit_key")
        .agg(pl.col("site").last())
    )
    home = dict(last.iter_rows()) | home
    for unit_id, site in result.decided.inspect_now.select("unit_id", "site").iter_rows():
        wanted.add(home.setdefault(names.of(unit_id, site), site))
    if len(wanted) < 2:
        return {}
    ordered = sorted(wanted, key=lambda site: (site is None, site or ""))
    return {site: frozenset(key for key, home_site in home.items() if home_site == site) for site in ordered}


def narrowed(result: PlanResult, site: Site, *, keys: frozenset[str]) -> PlanResult:
    """The result with the units of one site only; what belongs to the fleet is kept, and `notes` say so.

    keys : of the site's units
    """
    names = unit_names(result)
    drains = result.described.drains.filter(pl.col("unit_key").is_in(sorted(keys)))
    service = _of_units(result.decided.next_service, names, keys=keys)
    shown = set(drains.filter(pl.col("unit_key") != pl.col("unit_id"))["unit_id"])
    namesakes = set(service["unit_id"]) & names.shared - shown

    def here(unit: UnitCurve | NextSample) -> bool:
        return names.of(unit.unit_id, unit.site) in keys

    log, judged, decided = result.log, result.judged, result.decided
    units = {*drains["unit_id"].cast(pl.String), *service["unit_id"]}
    return replace(
        result,
        log=replace(
            log,
            name=f"{log.name}, {NO_SITE if site is None else site}",
            held_back=_naming_only(units, log.held_back),
            remarks=_naming_only(units, log.remarks),
        ),
        described=replace(
            result.described,
            drains=drains,
            processing=fleet_processing(units=service.height, drains=drains.height),
        ),
        judged=replace(
            judged,
            channels=tuple(_without(channel, namesakes) for channel in judged.channels),
            changepoints=_changepoints(judged.changepoints, keys),
            legs=_legs(judged.legs, keys),
            volume=_volume(judged.volume, keys),
        ),
        decided=replace(
            decided,
            next_service=service,
            unit_reasons=_of_units(decided.unit_reasons, names, keys=keys),
            inspect_now=_of_units(decided.inspect_now, names, keys=keys),
            wear=None if decided.wear is None else _wear(decided.wear, keys),
            parts=None if decided.parts is None else _of_units(decided.parts, names, keys=keys),
            unit_curves=tuple(curve for curve in decided.unit_curves if here(curve)),
            next_samples=tuple(sample for sample in decided.next_samples if here(sample)),
        ),
        forecast=None,
        notes={**result.notes, "site": site, "whole_log": WHOLE_LOG, "whole_log_name": result.log.name},
    )


def narrowed_changes(
    changes: ReportChanges, result: PlanResult, *, site: Site, keys: frozenset[str]
) -> ReportChanges:
    """Changes of one site's units, also of those no longer in the log; changes of tables and rows are kept.

    result : of the whole log; keys : of the site's units
    """
    names, gone = unit_names(result), {unit for unit in changes.gone_units if unit.site == site}

    def here(unit: UnitName) -> bool:
        return names.of(unit.unit_id, unit.site) in keys or unit in gone

    units = ("newly_turned", "new_units", "gone_units")
    whole = ("shrunk", "newly_held_back", "settings_changed", "versions_changed")
    kept: dict[str, Any] = {name: tuple(filter(here, getattr(changes, name))) for name in units}
    for item in fields(changes):
        value = getattr(changes, item.name)
        if isinstance(value, tuple) and item.name not in (*units, *whole):
            kept[item.name] = tuple(change for change in value if here(change.unit))
    return replace(changes, **kept)


def site_folder(site: Site) -> str:
    """A safe folder name for a site: the name itself where it is safe, else a simplified one.

    The tilde and the digest distinguish a simplified name from every safe one and from each other.
    """
    if site is None:
        return _NO_SITE_FOLDER
    if _SAFE_NAME.fullmatch(site) and unicodedata.is_normalized("NFC", site):
        return site
    plain = re.sub(r"[^A-Za-z0-9]+", "-", unicodedata.normalize("NFKD", site)).strip("-")[:40]
    return f"{plain}~{hashlib.sha256(site.encode('utf-8', 'surrogatepass')).hexdigest()[:16]}"


def _naming_only(units: Collection[str], rows: pl.DataFrame) -> pl.DataFrame:
    """Rows held back or remarked on, all of them, without the names of other sites' units beside their lines."""
    ours = pl.col("unit_id").is_in(sorted(units))
    return rows.with_columns(pl.when(ours).then("unit_id").alias("unit_id"))


def _of_units(table: pl.DataFrame, names: UnitNames, *, keys: Collection[str]) -> pl.DataFrame:
    """Rows of a table with unit_id and site that belong to these units."""
    kept = [names.of(*row) in keys for row in table.select("unit_id", "site").iter_rows()]
    return table.filter(pl.Series(kept, dtype=pl.Boolean))


def _without(channel: ChannelResult, namesakes: Collection[str]) -> ChannelResult:
    """Ratings of the whole fleet, except of namesakes at other sites of units without a drain at this site."""
    return replace(channel, ratings=channel.ratings.filter(~pl.col("unit_id").is_in(sorted(namesakes))))


def _changepoints(changepoints: UnitChangepoints | None, keys: Collection[str]) -> UnitChangepoints | None:
    """Verdicts on this site's units; the sums in the picture are those of the fleet."""
    return changepoints and replace(
        changepoints, verdicts=changepoints.verdicts.filter(pl.col("unit_key").is_in(sorted(keys)))
    )


def _legs(legs: LegResult, keys: Collection[str]) -> LegResult:
    """Pairs with a leg at this site."""

    def here(pair: Any) -> bool:
        return pair.left in keys or pair.right in keys

    partners: Mapping[str, str] = {unit: other for unit, other in legs.partners.items() if unit in keys}
    return replace(
        legs,
        partners=partners,
        pairs=tuple(pair for pair in legs.pairs if here(pair)),
        swaps=tuple(swap for swap in legs.swaps if here(swap)),
        unseen=tuple(left for left in legs.unseen if left in partners),
    )


def _volume(volume: VolumeResult, keys: Collection[str]) -> VolumeResult:
    """Balances of this site's units; the usual balance is that of the fleet."""
    return replace(
        volume,
        units=tuple(unit for unit in volume.units if unit.unit_key in keys),
        verdicts=volume.verdicts.filter(pl.col("unit_key").is_in(sorted(keys))),
    )


def _wear(wear: WearResult, keys: Collection[str]) -> WearResult:
    """Wear of this site's units; the fitted line is that of the fleet."""
    ours = pl.col("unit_key").is_in(sorted(keys))
    quantities = (
        replace(quantity, units=tuple(unit for unit in quantity.units if unit.unit_key in keys))
        for quantity in wear.quantities
    )
    return replace(wear, quantities=tuple(quantities), caps=wear.caps.filter(ours), signs=wear.signs.filter(ours))
