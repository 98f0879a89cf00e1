"""One section for each unit: what set its interval, its drains, and a picture of those worth one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from matplotlib.figure import Figure

from draincurve.pipeline.judging import ChannelResult
from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content import wording
from draincurve.reports.content.assumed_conditions import assumed_conditions
from draincurve.reports.content.drain_evidence import DrainEvidence
from draincurve.reports.content.ratio_text import call_text
from draincurve.reports.content.sections.drain_rows import DrainRow, drain_row, drains_by_unit, rating_range
from draincurve.reports.content.sections.unit_pictures import curves_by_unit, unit_picture, worth_a_picture
from draincurve.reports.content.sections.unkept_bookings import BookedOutOfService
from draincurve.reports.content.sections.wear_pictures import unit_wear_picture
from draincurve.reports.content.service_rows import ServiceRow
from draincurve.reports.content.shortest_fill import below_any_rated, extrapolated_text, shortest_rated
from draincurve.reports.content.unit_names import UnitNames
from draincurve.reports.figures.svg_picture import Picture

MOST_PICTURES = 32


@dataclass(frozen=True, slots=True)
class UnitSection:
    """What the report says about one unit in service; partner : the other leg of the same machine.

    parts : findings on its parts.  assumed : conditions that its interval is for.  short : that the interval is
    shorter than any rated fill, else empty.  worn : the measured quantity nearest to its limit.
    """

    row: ServiceRow
    partner: ServiceRow | None
    why: str
    evidence: tuple[str, ...]
    cost_interval: str
    inspect: str
    parts: tuple[str, ...]
    assumed: str
    short: str
    drains: tuple[DrainRow, ...]
    picture: Picture | None
    worn: Picture | None

    @property
    def counted(self) -> str:
        """How many drains are listed, and how many top-ups among them, which are no drains."""
        top_ups = sum(drain.top_up for drain in self.drains)
        drains = wording.counted(len(self.drains) - top_ups, "drain")
        return f"{drains} and {wording.counted(top_ups, 'top-up')}" if top_ups else drains

    @property
    def any_rater(self) -> bool:
        """Whether any drain says who rated it."""
        return any(drain.rated_by for drain in self.drains)

    @property
    def any_note(self) -> bool:
        """Whether any drain has a note."""
        return any(drain.note for drain in self.drains)


def unit_sections(
    result: PlanResult,
    *,
    rows: Sequence[ServiceRow],
    names: UnitNames,
    why: Mapping[str, str],
    evidence: DrainEvidence,
    parts: Mapping[str, tuple[str, ...]],
) -> tuple[UnitSection, ...]:
    """Sections in the order of `rows`; of the units worth a picture, the soonest due have one."""
    drains = drains_by_unit(result.described.drains, names)
    inspect = {
        names.of(cells["unit_id"], cells["site"]): str(cells["signs"])
        for cells in result.decided.inspect_now.iter_rows(named=True)
    }
    costs = {
        names.of(cells["unit_id"], cells["site"]): wording.finite_number(cells["cost_interval_h"])
        for cells in result.decided.unit_reasons.iter_rows(named=True)
    }
    partners, shortest = _partners(result, rows), shortest_rated(result)
    assumed = assumed_conditions(result, rows)
    curves = curves_by_unit(result, names)
    sections = []
    pictures_left = MOST_PICTURES
    timelines, worn_lines = Figure(), Figure()  # pictures of one kind after another keep their axes
    for row in rows:
        unit_drains = drains.get(row.name, [])
        partner = partners.get(row.name)
        picture = worn = None
        if pictures_left and worth_a_picture(row, len(unit_drains), units=len(rows), inspect=row.name in inspect):
            risk = curves.risk_of(row, partner)
            picture = unit_picture(
                timelines, row, drains=unit_drains, channels=result.judged.channels, risk=risk, as_of=result.as_of
            )
            worn = unit_wear_picture(worn_lines, result.decided.wear, row.name, prefix=f"{row.anchor}-worn")
            pictures_left -= 1
        cost = costs.get(row.name)
        sections.append(
            UnitSection(
                row=row,
                partner=partner,
                why=why.get(row.name, ""),
                evidence=tuple(
                    text
                    for text in (
                        *evidence.sentences(row.name),
                        latest_drain_text(row, unit_drains, result.judged.channels),
                        call_text(row, rule=result.settings.standing),
                    )
                    if text
                ),
                cost_interval="" if cost is None else wording.hours(cost),
                inspect=inspect.get(row.name, ""),
                parts=parts.get(row.name, ()),
                assumed=assumed.get(row.name, ""),
                short=f"Its interval is {extrapolated_text(shortest)}" if below_any_rated(row, shortest) else "",
                drains=tuple(drain_row(cells, result.judged.channels) for cells in reversed(unit_drains)),
                picture=picture,
                worn=worn,
            )
        )
    return tuple(sections)


def latest_drain_text(row: ServiceRow, drains: Sequence[dict[str, Any]], channels: Sequence[ChannelResult]) -> str:
    """That the latest drain was past the limit in another channel than the one that sets the interval; or empty.

    drains : of the unit, in order of date
    """
    ratings = {channel.channel: rating_range(drains[-1], channel.channel) for channel in channels} if drains else {}
    limits = {channel.channel: channel.limit for channel in channels}
    past = [name for name, rating in ratings.items() if rating is not None and rating[0] >= limits[name]]
    of_interval = ratings.get(row.set_by or "")
    if not past or of_interval is None or of_interval[1] >= limits[row.set_by or ""]:
        return ""
    return (
        f"The latest drain was past the limit of {wording.listed(past)}, not of {row.set_by}: the interval follows "
        "from all drains, not from the latest alone."
    )


def units_out_of_service(
    result: PlanResult, rows: Sequence[ServiceRow], *, names: UnitNames, unkept: Sequence[BookedOutOfService]
) -> tuple[str, ...]:
    """Names of units with drains that are not in the next-service table; one that is booked is asked about."""
    drains = result.described.drains.select("unit_id", "site").unique()
    logged = {names.of(unit_id, site) for unit_id, site in drains.iter_rows()} - {row.name for row in rows}
    booked = {unit.name: wording.weekday(unit.days[0], result.as_of) for unit in unkept}
    return tuple(
        f"{name} (booked for {booked[name]}: in service?)" if name in booked else name for name in sorted(logged)
    )


def _partners(result: PlanResult, rows: Sequence[ServiceRow]) -> dict[str, ServiceRow]:
    """The row of the other leg of the same machine, where both are in service."""
    by_name = {row.name: row for row in rows}
    pairs = result.judged.legs.partners.items()
    return {unit: by_name[other] for unit, other in pairs if unit in by_name and other in by_name}
