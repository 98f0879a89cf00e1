"""The page's section on units that turned: who, since when, how often that happens by chance."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

from matplotlib.figure import Figure

from draincurve.pipeline.judging import ChannelTrust
from draincurve.pipeline.judging.changepoints import UnitChangepoints
from draincurve.reports.content import wording
from draincurve.reports.figures.cusum_figure import CusumPath, draw_cusum
from draincurve.reports.figures.svg_picture import Picture, inline_picture
from draincurve.schemas.channels import title_of

MOST_NAMED = 8


@dataclass(frozen=True, slots=True)
class TurnedLine:
    """One unit that turned, in words; `anchor` is empty where the page has no section on it."""

    name: str
    anchor: str
    channel: str
    since: str
    signalled: str


@dataclass(frozen=True, slots=True)
class TurnedSection:
    """Units that turned; pictures of the channels in which one did; `sentences` on how to read it."""

    lines: tuple[TurnedLine, ...]
    pictures: tuple[Picture, ...]
    sentences: tuple[str, ...]


def turned_section(
    figure: Figure, trust: Sequence[ChannelTrust], in_service: Collection[str], as_of: date
) -> TurnedSection:
    """Everything the page says about units that turned; a unit's key is its name on the page.

    in_service : names of the units that the page has sections on.
    """
    watched = [one.turned for one in trust if one.turned is not None]
    lines = [
        TurnedLine(
            name=row["unit_key"],
            anchor=wording.anchor(row["unit_key"]) if row["unit_key"] in in_service else "",
            channel=one.channel,
            since=wording.day(row["turned_since"], as_of),
            signalled=wording.day(row["signalled_on"], as_of),
        )
        for one in watched
        for row in one.verdicts.filter("turned").sort("unit_key").iter_rows(named=True)
    ]
    return TurnedSection(
        tuple(sorted(lines, key=lambda line: (line.name, line.channel))),
        tuple(picture for one in watched if (picture := _picture(figure, one)) is not None),
        tuple(_sentences(watched)),
    )


def _picture(figure: Figure, found: UnitChangepoints) -> Picture | None:
    """The sums of a channel in which a unit turned; None where none did."""
    turned = found.verdicts.filter("turned").sort("share_of_threshold", "unit_key", descending=[True, False])
    named = turned["unit_key"].head(MOST_NAMED).to_list()
    if not named or found.threshold is None:
        return None
    others = [key for key in found.unit_keys if key not in named]
    paths = [CusumPath(key, *found.path(key), key in named) for key in (*named, *others)]
    draw_cusum(figure, paths, threshold=found.threshold.value)
    title = f"{title_of(found.channel)}: units that turned"
    described = (
        f"Sums of how much dirtier each drain was than the unit's own drains before it led to expect. Over the "
        f"threshold: {wording.listed(named)}."
    )
    return inline_picture(figure, f"turned-{found.channel}", title=title, description=described)


def _sentences(watched: Sequence[UnitChangepoints]) -> list[str]:
    """How many units are watched, and how many alarms chance alone gives."""
    said = []
    for found in watched:
        told = found.verdicts["turned"].drop_nulls().len()
        threshold = found.threshold
        if threshold is None:
            said.append(f"{title_of(found.channel)}: no unit has drains enough to say whether it changed.")
            continue
        expected = threshold.standing_by_chance * told
        said.append(
            f"{title_of(found.channel)}: {wording.counted(told, 'unit')} watched; chance alone gives one false "
            f"alarm in {_every(threshold.drains_per_false_alarm)} drains, and lists about {expected:.1f} units at a "
            "time."
        )
    return said


def _every(drains: float) -> str:
    """Drains for one false alarm, in round words."""
    return f"{drains:.0f}" if drains < 10_000 else "over 10 000"
