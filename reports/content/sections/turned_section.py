"""The section on units that turned: which, since when, and how many false alarms to expect."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

from matplotlib.figure import Figure

from draincurve.pipeline.judging import ChannelTrust
from draincurve.pipeline.judging.changepoints import UnitChangepoints
from draincurve.reports.content import wording
from draincurve.reports.content.unit_names import section_anchor
from draincurve.reports.figures.cusum_figure import CusumPath, draw_cusum
from draincurve.reports.figures.svg_picture import Picture, inline_picture
from draincurve.schemas.channels import title_of

MOST_NAMED = 8


@dataclass(frozen=True, slots=True)
class TurnedLine:
    """One unit that turned, in words; anchor : empty for a unit without a section."""

    name: str
    anchor: str
    in_service: bool
    channel: str
    since: str
    signalled: str


@dataclass(frozen=True, slots=True)
class TurnedSection:
    """Units that turned; pictures : of the channels in which one did.  sentences : how to read them."""

    lines: tuple[TurnedLine, ...]
    pictures: tuple[Picture, ...]
    sentences: tuple[str, ...]


def turned_section(
    figure: Figure, trust: Sequence[ChannelTrust], *, in_service: Collection[str], as_of: date
) -> TurnedSection:
    """Units that turned, in words and pictures.

    in_service : names of the units that have a section; a unit's key is its name.
    """
    watched = [channel.turned for channel in trust if channel.turned is not None]
    lines = [
        TurnedLine(
            name=row["unit_key"],
            anchor=section_anchor(row["unit_key"], in_service),
            in_service=row["unit_key"] in in_service,
            channel=found.channel,
            since=wording.day(row["turned_since"], as_of),
            signalled=wording.day(row["signalled_on"], as_of),
        )
        for found in watched
        for row in found.verdicts.filter("turned").sort("unit_key").iter_rows(named=True)
    ]
    return TurnedSection(
        tuple(sorted(lines, key=lambda line: (line.name, line.channel))),
        tuple(picture for found in watched if (picture := _picture(figure, found)) is not None),
        tuple(_sentences(watched)),
    )


def _picture(figure: Figure, found: UnitChangepoints) -> Picture | None:
    """The cumulative sums of a channel in which a unit turned; None if none did."""
    turned = found.verdicts.filter("turned").sort("share_of_threshold", "unit_key", descending=[True, False])
    named = turned["unit_key"].head(MOST_NAMED).to_list()
    if not named or found.threshold is None:
        return None
    others = [key for key in found.unit_keys if key not in named]
    paths = [CusumPath(key, *found.path(key), key in named) for key in (*named, *others)]
    draw_cusum(figure, paths, threshold=found.threshold.value)
    title = f"{title_of(found.channel)}: units that turned"
    description = (
        "Sums of how much dirtier each drain was than the unit's own earlier drains led to expect. Over the "
        f"threshold: {wording.listed(named)}."
    )
    return inline_picture(figure, f"turned-{found.channel}", title=title, description=description)


def _sentences(watched: Sequence[UnitChangepoints]) -> list[str]:
    """How many units are watched, and how many false alarms to expect."""
    sentences = []
    for found in watched:
        units = found.verdicts["turned"].drop_nulls().len()
        threshold = found.threshold
        if threshold is None:
            sentences.append(f"{title_of(found.channel)}: no unit has enough drains to say whether it changed.")
            continue
        expected = threshold.standing_by_chance * units
        sentences.append(
            f"{title_of(found.channel)}: {wording.counted(units, 'unit')} watched; chance alone gives one false "
            f"alarm in {_every(threshold.drains_per_false_alarm)} drains, and lists about {expected:.1f} units at a "
            "time."
        )
    return sentences


def _every(drains: float) -> str:
    """Drains for each false alarm, in words."""
    return f"{drains:.0f}" if drains < 10_000 else "over 10 000"
