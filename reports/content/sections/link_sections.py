"""The section on the shape of the curve, and on bounds where few drains were past the limit."""

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
    """The shapes of one channel; bounds : empty where many drains were past the limit."""

    channel: str
    title: str
    sentences: tuple[str, ...]
    rows: tuple[LinkRow, ...]
    kind: str
    method: str
    bounds: str


def link_sections(trust: Sequence[ChannelTrust]) -> tuple[LinkSection, ...]:
    """One section for each channel."""
    return tuple(_section(channel) for channel in trust)


def _section(channel: ChannelTrust) -> LinkSection:
    bounds = "" if channel.bounds is None else channel.bounds.text
    if isinstance(channel.links, str):
        return LinkSection(
            channel.channel, title_of(channel.channel), (wording.sentence(channel.links),), (), "", "", bounds
        )
    return LinkSection(
        channel=channel.channel,
        title=title_of(channel.channel),
        sentences=channel.links.sentences,
        rows=tuple(_row(item, channel.links) for item in channel.links.links),
        kind=f"{channel.links.spring_type}, {channel.links.oil_grade}",
        method=_method(channel.links),
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
    """How the scores were calculated."""
    units = wording.counted(choice.scored, "unit")
    if choice.scored != choice.units:
        units += f" of {choice.units}"
    return (
        f"Log score of each unit's ratings given the other units, {units}, by Laplace's method at the posterior "
        f"mode; {choice.refitted} of the {3 * choice.scored} scores by a refit."
    )
