"""One section for each channel: its curve and the data behind it, its multipliers, and how far the log moved them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.figure import Figure

from draincurve.pipeline.judging import (
    BARELY_MOVED,
    ChannelResult,
    FitDiagnostics,
    Multiplier,
    PriorMovement,
    RiskCurve,
)
from draincurve.reports.content import wording
from draincurve.reports.figures.channel_curve_figure import draw_channel_curve, draw_curves_by_kind, risk_hours
from draincurve.reports.figures.multiplier_figure import draw_multipliers
from draincurve.reports.figures.prior_movement_figure import draw_prior_movement
from draincurve.reports.figures.svg_picture import Picture, inline_picture
from draincurve.schemas.channels import title_of

DO_NOT_RELY = "Do not rely on this fit."
MOST_KINDS = 8
MOST_LEVELS = 30
HOURS_SLOPE = "hours slope"
VERY_WIDE = 10.0
"""Ends of a multiplier's range so many times apart say little of it."""


@dataclass(frozen=True, slots=True)
class MultiplierRow:
    """One level of one term, in words; meaning : whether the range is wholly on one side of 1, and what to doubt."""

    term: str
    level: str
    drains: int
    units: int
    multiplier: str
    meaning: str


@dataclass(frozen=True, slots=True)
class ChannelSection:
    """One channel in words and pictures; a picture is None if there is nothing to draw."""

    name: str
    title: str
    limit: int
    why_not: str
    answer: str
    basis: str
    details: tuple[str, ...]
    doubt: str
    curve: Picture | None
    kinds: Picture | None
    kinds_left_out: int
    multipliers: Picture | None
    multiplier_rows: tuple[MultiplierRow, ...]
    movement: Picture | None
    unmoved: tuple[str, ...]


def channel_section(
    figure: Figure, channel: ChannelResult, *, accepted_risk: float, inseparable_springs: frozenset[str] = frozenset()
) -> ChannelSection:
    """One channel in words and pictures.

    inseparable_springs : that this log cannot separate from another column, so that their multipliers may be its.
    """
    sentences = _sentences(channel)
    unmoved = [item for item in channel.prior_movement if item.ratio >= BARELY_MOVED]
    return ChannelSection(
        name=channel.channel,
        title=title_of(channel.channel),
        limit=channel.limit,
        why_not=wording.sentence(channel.why_not or ""),
        answer=_answer(channel, accepted_risk),
        basis=" ".join([_counts(channel), *sentences[:1]]),
        details=tuple(sentences[1:]),
        doubt=_doubt(channel.diagnostics),
        curve=_curve(figure, channel, accepted_risk=accepted_risk),
        kinds=_kinds(figure, channel, accepted_risk=accepted_risk),
        kinds_left_out=max(0, len(channel.curves) - MOST_KINDS),
        multipliers=_multipliers(figure, channel),
        multiplier_rows=tuple(
            _multiplier_row(
                item, inseparable_springs, by_prior=any(moved.parameter == item.term for moved in unmoved)
            )
            for item in channel.multipliers
        ),
        movement=_movement(figure, channel),
        unmoved=_unmoved(unmoved),
    )


def _unmoved(items: Sequence[PriorMovement]) -> tuple[str, ...]:
    """What it means that the log barely moved these parameters from their priors, each named once."""
    sentences = []
    others = [item for item in items if item.parameter != HOURS_SLOPE]
    if len(others) < len(items):
        sentences.append("The log cannot tell hours apart; stagger some changes to shorter and longer hours.")
    if others:
        least = f"{min(item.ratio for item in others):.2f} times"
        wide = least if len(others) == 1 else f"{least} or more"
        named = "; ".join(item.meaning.removesuffix(" (log)") for item in others)
        sentences.append(
            f"Still {wide} as wide as before the log, so these values are mostly the prior's, not the log's: {named}."
        )
    return tuple(sentences)


def _answer(channel: ChannelResult, accepted_risk: float) -> str:
    if channel.fleet_curve is None:
        return ""
    reached = risk_hours(channel.fleet_curve, accepted_risk)
    limit = f"{channel.channel} rated {channel.limit} or worse"
    if reached is None:
        return f"The chance of {limit} does not cross {wording.percent(accepted_risk)} in the hours drawn here."
    return (
        f"Over the fleet, the chance of {limit} reaches {wording.percent(accepted_risk)} "
        f"at about {reached:.1f} h on the oil."
    )


def _counts(channel: ChannelResult) -> str:
    """How many drains were rated, and how many were past the limit."""
    past = channel.ratings["past_limit"]
    text = f"{wording.counted(channel.ratings.height, 'rated drain')}, {(past == 1).sum()} past the limit"
    if past.null_count():
        text += f"; {past.null_count()} rated as a range that straddles the limit, used as either"
    return f"{text}."


def _sentences(channel: ChannelResult) -> list[str]:
    """How much units differ, how fast oil degrades, and how the model was fitted."""
    sentences = []
    if channel.unit_spread is not None:
        median, low, high = channel.unit_spread
        sentences.append(
            "Units differ: one that is one standard deviation dirtier than typical lasts "
            f"{wording.ratio(median, low=low, high=high)} the hours."
        )
    if channel.hours_slope is not None:
        slope, low_slope, high_slope = (wording.short_number(value) for value in channel.hours_slope)
        sentences.append(
            f"Hours slope {slope} ({low_slope} to {high_slope}): the larger, the more suddenly oil goes past its "
            "limit."
        )
    if channel.diagnostics is not None:
        sentences.append(_how_fitted(channel.diagnostics))
    return sentences


def _how_fitted(diagnostics: FitDiagnostics) -> str:
    """The method and the checks of the fit."""
    text = f"Fitted by {diagnostics.method}, {wording.counted(diagnostics.iterations, 'step')}"
    if diagnostics.pareto_shape is not None:
        text += f", Pareto shape {diagnostics.pareto_shape:.2f} (sound under 0.7)"
    if diagnostics.effective_sample_size is not None:
        text += f", effective sample size {diagnostics.effective_sample_size:.0f} (sound from 400)"
    return f"{text}."


def _doubt(diagnostics: FitDiagnostics | None) -> str:
    if diagnostics is None or diagnostics.trusted:
        return ""
    return f"{DO_NOT_RELY} {wording.sentence(diagnostics.message)}"


def _curve(figure: Figure, channel: ChannelResult, *, accepted_risk: float) -> Picture | None:
    if channel.ratings.height == 0:
        return None
    draw_channel_curve(figure, channel, accepted_risk=accepted_risk)
    title = f"Chance of {channel.channel} rated {channel.limit} or worse, by hours on the oil"
    description = (
        f"{_answer(channel, accepted_risk)} Triangles above are drains past the limit, dots below are the others. "
        "The dotted steps are the share past the limit without any model; the shaded band is the 90 % range."
    )
    return inline_picture(figure, f"curve-{channel.channel}", title=title, description=description)


def _kinds(figure: Figure, channel: ChannelResult, *, accepted_risk: float) -> Picture | None:
    if channel.fleet_curve is None or len(channel.curves) < 2:
        return None
    shown = channel.curves[:MOST_KINDS]
    draw_curves_by_kind(figure, shown, fleet=channel.fleet_curve, accepted_risk=accepted_risk)
    title = f"{title_of(channel.channel)} by spring and oil"
    description = "; ".join(_kind_text(curve, accepted_risk) for curve in shown)
    return inline_picture(figure, f"kinds-{channel.channel}", title=title, description=description)


def _kind_text(curve: RiskCurve, accepted_risk: float) -> str:
    reached = risk_hours(curve, accepted_risk)
    hours = "not reached in the hours drawn" if reached is None else f"{reached:.1f} h"
    return f"{curve.spring_type}, {curve.oil_grade}: {wording.percent(accepted_risk)} at {hours}"


def _multipliers(figure: Figure, channel: ChannelResult) -> Picture | None:
    if not channel.multipliers:
        return None
    shown = channel.multipliers[:MOST_LEVELS]
    draw_multipliers(figure, shown)
    description = "; ".join(f"{item.term} {item.level}: {_multiplier_text(item)}" for item in shown)
    title = f"{title_of(channel.channel)}: hours multipliers"
    return inline_picture(figure, f"multipliers-{channel.channel}", title=title, description=description)


def _multiplier_text(item: Multiplier) -> str:
    return wording.ratio(item.multiplier, low=item.low, high=item.high)


def _multiplier_row(item: Multiplier, inseparable_springs: frozenset[str], *, by_prior: bool) -> MultiplierRow:
    """One level; by_prior : the log barely moved its term from the prior."""
    meaning = "no clear difference"
    if item.term == "spring type" and item.level in inseparable_springs:
        meaning = "not separable from other columns: see Springs"
    elif item.high < 1.0:
        meaning = "fewer hours"
    elif item.low > 1.0:
        meaning = "more hours"
    if item.high >= VERY_WIDE * item.low:
        meaning += "; range too wide to rely on"
    if by_prior:
        meaning += "; mostly the prior's, not the log's"
    return MultiplierRow(item.term, item.level, item.drains, item.units, _multiplier_text(item), meaning)


def _movement(figure: Figure, channel: ChannelResult) -> Picture | None:
    movements: Sequence[PriorMovement] = channel.prior_movement
    if not movements:
        return None
    draw_prior_movement(figure, movements)
    description = "; ".join(f"{item.parameter}: {item.ratio:.2f}" for item in movements)
    title = f"{title_of(channel.channel)}: how far the log moved each parameter from its prior"
    return inline_picture(figure, f"movement-{channel.channel}", title=title, description=description)
