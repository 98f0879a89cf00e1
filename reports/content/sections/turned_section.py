"""The section on units that turned: which, since when, and how many false alarms to expect."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from matplotlib.figure import Figure

from draincurve.pipeline.judging.changepoints import UnitChangepoints
from draincurve.reports.content import wording
from draincurve.reports.content.unit_names import section_anchor
from draincurve.reports.figures.cusum_figure import CusumPath, draw_cusum
from draincurve.reports.figures.svg_picture import Picture, inline_picture

MOST_NAMED = 8


@dataclass(frozen=True, slots=True)
class TurnedLine:
    """One unit that turned, in words; anchor : empty for a unit without a section; channel : or several of them."""

    name: str
    anchor: str
    in_service: bool
    channel: str
    since: str
    signalled: str


@dataclass(frozen=True, slots=True)
class TurnedSection:
    """Units that turned; pictures : one where a unit did.  sentences : how to read them."""

    lines: tuple[TurnedLine, ...]
    pictures: tuple[Picture, ...]
    sentences: tuple[str, ...]


def turned_section(
    figure: Figure, changepoints: UnitChangepoints | None, *, in_service: Collection[str], as_of: date
) -> TurnedSection:
    """Units that turned, in words and a picture.

    in_service : names of the units that have a section; a unit's key is its name.
    """
    if changepoints is None:
        return TurnedSection((), (), ())
    lines = tuple(
        TurnedLine(
            name=row["unit_key"],
            anchor=section_anchor(row["unit_key"], in_service),
            in_service=row["unit_key"] in in_service,
            channel=wording.listed(row["channels"]),
            since=wording.day(row["turned_since"], as_of),
            signalled=wording.day(row["signalled_on"], as_of),
        )
        for row in changepoints.verdicts.filter("turned").sort("unit_key").iter_rows(named=True)
    )
    picture = _picture(figure, changepoints)
    return TurnedSection(lines, () if picture is None else (picture,), (_sentence(changepoints),))


def _picture(figure: Figure, changepoints: UnitChangepoints) -> Picture | None:
    """The cumulative sums of a fleet in which a unit turned; None if none did."""
    turned = changepoints.verdicts.filter("turned").sort("share_of_threshold", "unit_key", descending=[True, False])
    named = turned["unit_key"].head(MOST_NAMED).to_list()
    if not named or changepoints.threshold is None:
        return None
    others = [key for key in changepoints.unit_keys if key not in named]
    paths = [CusumPath(key, *changepoints.path(key), key in named) for key in (*named, *others)]
    draw_cusum(figure, paths, threshold=changepoints.threshold.value)
    description = (
        "Sums of how much dirtier each drain was than the unit's own earlier drains led to expect. Over the "
        f"threshold: {wording.listed(named)}."
    )
    return inline_picture(figure, "turned-units", title="Units that turned", description=description)


def _sentence(changepoints: UnitChangepoints) -> str:
    """How many units are watched, and how many false alarms to expect."""
    units, threshold = changepoints.verdicts["turned"].drop_nulls().len(), changepoints.threshold
    if threshold is None:
        return "No unit has enough drains to say whether it changed."
    expected = threshold.standing_by_chance * units
    watched_by = wording.listed(list(changepoints.channels)) + (" together" if len(changepoints.channels) > 1 else "")
    return (
        f"{wording.counted(units, 'unit')} watched by {watched_by}; chance alone gives one false alarm in "
        f"{_every(threshold.drains_per_false_alarm)} drains, and lists about {expected:.1f} units at a time."
    )


def _every(drains: float) -> str:
    """Drains for each false alarm, in words."""
    return f"{drains:.0f}" if drains < 10_000 else "over 10 000"
