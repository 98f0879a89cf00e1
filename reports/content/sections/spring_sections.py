"""The section on springs: a picture and a table for each channel, what is confounded, what is left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.figure import Figure

from draincurve.pipeline.judging.springs import PRACTICAL, SpringComparison, SpringPair
from draincurve.reports.content import wording
from draincurve.reports.figures.spring_effect_figure import draw_spring_effects
from draincurve.reports.figures.svg_picture import Picture, inline_picture
from draincurve.schemas.channels import title_of

MOST_PAIRS = 28


@dataclass(frozen=True, slots=True)
class SpringRow:
    """One pair, in words."""

    spring_type: str
    compared_with: str
    verdict: str
    multiplier: str
    p_values: str
    drains: int
    units: int
    shared: str
    drains_needed: str
    reason: str


@dataclass(frozen=True, slots=True)
class SpringSection:
    """The springs in one channel; picture : None without a pair.  adjusted : what each pair is adjusted for."""

    channel: str
    title: str
    picture: Picture | None
    rows: tuple[SpringRow, ...]
    confounded: tuple[str, ...]
    left_out: tuple[str, ...]
    why_none: str
    adjusted: str


def spring_sections(figure: Figure, comparisons: Sequence[SpringComparison]) -> tuple[SpringSection, ...]:
    """The comparison of springs in words and pictures."""
    return tuple(
        SpringSection(
            channel=comparison.channel,
            title=title_of(comparison.channel),
            picture=_picture(figure, comparison),
            rows=tuple(_row(pair) for pair in comparison.pairs),
            confounded=comparison.confounded,
            left_out=comparison.left_out,
            why_none=wording.sentence(comparison.why_none or ""),
            adjusted=f"Each pair is adjusted for {wording.listed(['unit', *comparison.adjusted_for])}.",
        )
        for comparison in comparisons
    )


def inseparable_springs(comparisons: Sequence[SpringComparison], channel: str) -> frozenset[str]:
    """Springs that a channel can compare with no other, since each is confounded with something else."""
    pairs = [pair for comparison in comparisons if comparison.channel == channel for pair in comparison.pairs]
    springs = {name for pair in pairs for name in (pair.spring_type, pair.compared_with)}
    tested = {name for pair in pairs if pair.p_value is not None for name in (pair.spring_type, pair.compared_with)}
    return frozenset(springs - tested)


def _picture(figure: Figure, comparison: SpringComparison) -> Picture | None:
    if not comparison.pairs:
        return None
    shown = comparison.pairs[:MOST_PAIRS]
    draw_spring_effects(figure, shown, practical=PRACTICAL)
    description = "; ".join(
        f"{pair.spring_type} against {pair.compared_with}: {_multiplier(pair)}, {pair.verdict}" for pair in shown
    )
    title = f"{title_of(comparison.channel)}: springs compared"
    return inline_picture(figure, f"springs-{comparison.channel}", title=title, description=description)


def _row(pair: SpringPair) -> SpringRow:
    return SpringRow(
        spring_type=pair.spring_type,
        compared_with=pair.compared_with,
        verdict=pair.verdict,
        multiplier=_multiplier(pair),
        p_values="; ".join(
            f"{name} {_p_value(value)}"
            for name, value in (
                ("test", pair.p_value),
                ("over all tests", pair.p_adjusted),
                ("over units", pair.p_permutation),
            )
            if value is not None
        )
        or "no test possible",
        drains=pair.drains,
        units=pair.units,
        shared=f"{wording.counted(pair.shared_riders, 'rider')}, {wording.counted(pair.shared_oils, 'oil')}",
        drains_needed="" if pair.drains_needed is None else f"{pair.drains_needed}",
        reason=pair.reason,
    )


def _multiplier(pair: SpringPair) -> str:
    return wording.ratio(pair.hours_multiplier, low=pair.low, high=pair.high)


def _p_value(value: float) -> str:
    return "under 0.001" if value < 0.001 else f"{value:.2g}"
