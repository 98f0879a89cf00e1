"""What the log does not show, and why: channels, parameters and terms."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from draincurve.pipeline.describing import LeftOut
from draincurve.reports.content import wording
from draincurve.reports.content.sections.channel_sections import ChannelSection
from draincurve.schemas.channels import title_of


@dataclass(frozen=True, slots=True)
class CannotTell:
    """One thing that the log does not show, and why."""

    subject: str
    text: str


def cannot_tell(channels: Sequence[ChannelSection], left_out: Sequence[LeftOut]) -> tuple[CannotTell, ...]:
    """What the log does not show: channels without a sound fit, parameters that it did not move, terms left out."""
    items = []
    for channel in channels:
        name = channel.name.capitalize()
        if channel.why_not:
            items.append(CannotTell(f"{name}, no fit.", channel.why_not))
        items += [CannotTell(f"{name}.", text) for text in (channel.doubt, *channel.unmoved) if text]
    for left in left_out:
        subject = f"{title_of(left.channel)}, {left.term} left out:"
        items.append(CannotTell(subject, wording.sentence(left.reason)))
    return tuple(items)
