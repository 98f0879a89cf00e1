"""The page's section on the shape of the curve, and on bounds where little was past the limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from draincurve.pipeline.judging import ChannelTrust, LinkChoice, LinkScore
from draincurve.reports.content import wording
from draincurve.schemas.channels import title_of


@dataclass(frozen=True, slots=True)
class LinkRow:
    """One shape of the curve, in words."""

    link: str
    hours_law: str
    used: bool
    difference: str
    hours: str


@dataclass(frozen=True, slots=True)
class LinkSection:
    """The shapes of one channel; `bounds` is empty where drains past the limit are many."""

    channel: str
    title: str
    sentences: tuple[str, ...]
    rows: tuple[LinkRow, ...]
    kind: str
    method: str
    bounds: str


def link_sections(trust: Sequence[ChannelTrust]) -> tuple[LinkSection, ...]:
    """One section for each channel."""
    return tuple(_section(one) for one in trust)


def _section(one: ChannelTrust) -> LinkSection:
    bounds = "" if one.bounds is None else one.bounds.words
    if isinstance(one.links, str):
        return LinkSection(one.channel, title_of(one.channel), (wording.sentence(one.links),), (), "", "", bounds)
    return LinkSection(
        channel=one.channel,
        title=title_of(one.channel),
        sentences=one.links.words,
        rows=tuple(_row(item, one.links) for item in one.links.links),
        kind=f"{one.links.spring_type}, {one.links.oil_grade}",
        method=_method(one.links),
        bounds=bounds,
    )


def _row(item: LinkScore, choice: LinkChoice) -> LinkRow:
    best = item is choice.links[0]
    return LinkRow(
        link=item.link,
        hours_law=item.hours_law,
        used=item.link == choice.used,
        difference="best" if best else f"{item.difference:.1f} (± {item.difference_error:.1f})",
        hours=wording.hours(item.hours_at_risk),
    )


def _method(choice: LinkChoice) -> str:
    """How the scores were got, for the reader who asks."""
    some = "" if choice.scored == choice.units else f" of {choice.units}"
    return (
        f"Log score of each unit's ratings given the other units, {wording.counted(choice.scored, 'unit')}{some}, by "
        f"Laplace's method at the posterior mode; {choice.refitted} of the {3 * choice.scored} scores by a refit."
    )
