"""One site's part of a result: its units, out of the one fit over all sites."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Callable, Collection, Mapping
from dataclasses import fields, replace
from typing import Any

import polars as pl

from draincurve.pipeline.change_results import ReportChanges, UnitName
from draincurve.pipeline.deciding.wear_result import WearResult
from draincurve.pipeline.judging.channel_trust import ChannelTrust
from draincurve.pipeline.judging.evidence import ChannelResult
from draincurve.pipeline.judging.legs.comparison import LegResult
from draincurve.pipeline.judging.volume.unit_balance import VolumeResult
from draincurve.pipeline.plan_result import PlanResult
from draincurve.pipeline.processing import fleet_processing
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
    """Keys of the units of each site, in order of the sites' names; None, last, holds units that name none.

    A unit belongs where it is in service now, else to the site of its last drain. Sites without a unit in service or
    to inspect are left out; so is everything where that leaves only one site, whose report would be the one over all.
    """
    names = unit_names(result)
    home: dict[str, Site] = {}
    wanted: set[Site] = set()
    for unit_id, site in result.next_service.select("unit_id", "site").iter_rows():
        home[names.of(unit_id, site)] = site
        wanted.add(site)
    last = result.drains.sort("drained_on", maintain_order=True).group_by("unit_key").agg(pl.col("site").last())
    home = dict(last.iter_rows()) | home
    for unit_id, site in result.inspect_now.select("unit_id", "site").iter_rows():
        wanted.add(home.setdefault(names.of(unit_id, site), site))
    if len(wanted) < 2:
        return {}
    ordered = sorted(wanted, key=lambda site: (site is None, site or ""))
    return {site: frozenset(key for key, place in home.items() if place == site) for site in ordered}


def narrowed(result: PlanResult, site: Site, keys: frozenset[str]) -> PlanResult:
    """The result with the units of one site only; what belongs to the fleet stays whole, and `notes` say so."""
    names = unit_names(result)
    drains = result.drains.filter(pl.col("unit_key").is_in(sorted(keys)))
    service = _of_units(result.next_service, names, keys)
    shown = set(drains.filter(pl.col("unit_key") != pl.col("unit_id"))["unit_id"])
    namesakes = set(service["unit_id"]) & names.shared - shown

    def here(unit: UnitName) -> bool:
        return names.of(unit.unit_id, unit.site) in keys

    return replace(
        result,
        processing=fleet_processing(units=service.height, drains=drains.height),
        log_name=f"{result.log_name}, {NO_SITE if site is None else site}",
        next_service=service,
        unit_reasons=_of_units(result.unit_reasons, names, keys),
        drains=drains,
        inspect_now=_of_units(result.inspect_now, names, keys),
        channels=tuple(_without(channel, namesakes) for channel in result.channels),
        trust=tuple(_trust(one, keys) for one in result.trust),
        legs=None if result.legs is None else _legs(result.legs, keys),
        volume=None if result.volume is None else _volume(result.volume, keys),
        wear=None if result.wear is None else _wear(result.wear, keys),
        forecast=None,
        unit_curves=tuple(one for one in result.unit_curves if here(UnitName(one.unit_id, one.site))),
        next_samples=tuple(one for one in result.next_samples if here(UnitName(one.unit_id, one.site))),
        changes=None
        if result.changes is None
        else _changes(result.changes, lambda unit: here(unit) or unit in _gone(result.changes, site)),
        notes={**result.notes, "site": site, "whole_log": WHOLE_LOG},
    )


def site_folder(site: Site) -> str:
    """A folder name for a site that is never a path: the name itself where it is harmless, else a cut-down one.

    The tilde and the digest keep a cut-down name apart from every harmless one and from each other.
    """
    if site is None:
        return _NO_SITE_FOLDER
    if _SAFE_NAME.fullmatch(site) and unicodedata.is_normalized("NFC", site):
        return site
    plain = re.sub(r"[^A-Za-z0-9]+", "-", unicodedata.normalize("NFKD", site)).strip("-")[:40]
    return f"{plain}~{hashlib.sha256(site.encode('utf-8', 'surrogatepass')).hexdigest()[:16]}"


def _of_units(table: pl.DataFrame, names: UnitNames, keys: Collection[str]) -> pl.DataFrame:
    """Rows of a table with unit_id and site that belong to these units."""
    kept = [names.of(*row) in keys for row in table.select("unit_id", "site").iter_rows()]
    return table.filter(pl.Series(kept, dtype=pl.Boolean))


def _without(channel: ChannelResult, namesakes: Collection[str]) -> ChannelResult:
    """Ratings of the whole fleet, but for those of namesakes elsewhere of units that have no drain here."""
    return replace(channel, ratings=channel.ratings.filter(~pl.col("unit_id").is_in(sorted(namesakes))))


def _trust(one: ChannelTrust, keys: Collection[str]) -> ChannelTrust:
    """Verdicts on this site's units; the scores behind the picture stay those of the fleet."""
    if one.turned is None:
        return one
    verdicts = one.turned.verdicts.filter(pl.col("unit_key").is_in(sorted(keys)))
    return replace(one, turned=replace(one.turned, verdicts=verdicts))


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
    )


def _volume(volume: VolumeResult, keys: Collection[str]) -> VolumeResult:
    """Balances of this site's units; what is usual stays that of the fleet."""
    return replace(
        volume,
        units=tuple(unit for unit in volume.units if unit.unit_key in keys),
        verdicts=volume.verdicts.filter(pl.col("unit_key").is_in(sorted(keys))),
    )


def _wear(wear: WearResult, keys: Collection[str]) -> WearResult:
    """Wear of this site's units; the line behind it stays that of the fleet."""
    ours = pl.col("unit_key").is_in(sorted(keys))
    channels = (
        replace(channel, units=tuple(unit for unit in channel.units if unit.unit_key in keys))
        for channel in wear.channels
    )
    return replace(wear, channels=tuple(channels), caps=wear.caps.filter(ours), signs=wear.signs.filter(ours))


def _gone(changes: ReportChanges | None, site: Site) -> tuple[UnitName, ...]:
    """Units of the site that are no longer in the log."""
    return tuple(unit for unit in changes.gone_units if unit.site == site) if changes else ()


def _changes(changes: ReportChanges, here: Callable[[UnitName], bool]) -> ReportChanges:
    """Changes of this site's units; those of tables and rows concern the whole log and stay."""
    units = ("newly_turned", "new_units", "gone_units")
    whole = ("shrunk", "newly_held_back", "settings_changed", "versions_changed")
    kept: dict[str, Any] = {name: tuple(filter(here, getattr(changes, name))) for name in units}
    for item in fields(changes):
        value = getattr(changes, item.name)
        if isinstance(value, tuple) and item.name not in (*units, *whole):
            kept[item.name] = tuple(one for one in value if here(one.unit))
    return replace(changes, **kept)
