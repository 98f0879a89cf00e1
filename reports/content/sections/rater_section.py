"""The section on raters: who rates harsher or more leniently, who drifts, how well they agree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.figure import Figure

from draincurve.pipeline.judging import ChannelTrust
from draincurve.pipeline.judging.raters import HARSHER, LENIENT, RaterAgreement, RaterFinding, RaterResult
from draincurve.reports.content import wording
from draincurve.reports.figures.rater_figure import RaterShiftRow, draw_raters, signed_levels
from draincurve.reports.figures.svg_picture import Picture, inline_picture
from draincurve.schemas.channels import title_of

MOST_DRAWN = 20


@dataclass(frozen=True, slots=True)
class RaterRow:
    """One rater in one channel, in words."""

    channel: str
    rater: str
    drains: int
    units: str
    verdict: str
    levels: str
    multiplier: str
    drift: str


@dataclass(frozen=True, slots=True)
class AgreementRow:
    """Two raters on the drains that both rated, in words."""

    channel: str
    pair: str
    drains: int
    same: int
    difference: str
    kappa: str


@dataclass(frozen=True, slots=True)
class RaterSection:
    """Raters of all channels.

    named : sentences about raters who differ; notes : whose ratings the limits refer to, why some are not compared
    """

    named: tuple[str, ...]
    notes: tuple[str, ...]
    picture: Picture | None
    rows: tuple[RaterRow, ...]
    agreements: tuple[AgreementRow, ...]


def rater_section(figure: Figure, trust: Sequence[ChannelTrust]) -> RaterSection:
    """Raters in words and a picture."""
    results = [channel.raters for channel in trust if channel.raters is not None]
    return RaterSection(
        named=tuple(f"{title_of(result.channel)}: {item.text}" for result in results for item in result.named),
        notes=tuple(note for result in results for note in _notes(result)),
        picture=_picture(figure, results),
        rows=tuple(_row(result.channel, item) for result in results for item in result.findings),
        agreements=tuple(_agreement_row(item) for result in results for item in result.agreements),
    )


def _notes(result: RaterResult) -> list[str]:
    """To whose ratings the limits refer, and why raters are not compared: no term, or nothing in common."""
    reference = [f"{title_of(result.channel)}: {result.reference_text}"] if result.reference_text else []
    if result.why_not:
        return [*reference, f"{title_of(result.channel)}: {wording.sentence(result.why_not)}"]
    apart = [item.text for item in result.findings if item.shift.levels is None]
    notes = reference + [f"{title_of(result.channel)}: {text}" for text in apart]
    groups = sorted({tuple(sorted((item.shift.rater, *item.shift.compared_with))) for item in result.findings})
    if len(groups) > 1:
        listed = "; ".join(wording.listed(list(group)) for group in groups)
        notes.append(
            f"{title_of(result.channel)}: raters are compared only where they rated the same units in the same "
            f"weeks: {listed}."
        )
    return notes


def _picture(figure: Figure, results: Sequence[RaterResult]) -> Picture | None:
    shifts = [
        RaterShiftRow(result.channel, item.shift.rater, *item.shift.levels, item.verdict in (HARSHER, LENIENT))
        for result in results
        for item in result.findings
        if item.shift.levels is not None
    ][:MOST_DRAWN]
    if not shifts:
        return None
    draw_raters(figure, shifts)
    description = "; ".join(
        f"{shift.channel}, {shift.name}: {signed_levels(shift.levels)} levels" for shift in shifts
    )
    return inline_picture(figure, "raters", title="Raters compared", description=description)


def _row(channel: str, item: RaterFinding) -> RaterRow:
    shift = item.shift
    levels = "in the middle" if shift.is_reference else ""
    if shift.levels is not None and not shift.is_reference:
        median, low, high = shift.levels
        levels = f"{signed_levels(median)} ({signed_levels(low)} to {signed_levels(high)})"
    multiplier = ""
    if shift.multiplier is not None:
        median, low, high = shift.multiplier
        multiplier = wording.ratio(median, low=low, high=high)
    return RaterRow(
        channel=channel,
        rater=shift.rater,
        drains=shift.drains,
        units=f"{shift.shared_units} of {shift.units}",
        verdict=item.verdict,
        levels=levels,
        multiplier=multiplier,
        drift=_drift(item),
    )


def _drift(item: RaterFinding) -> str:
    if item.drift is None:
        return "cannot tell yet"
    if not item.drift.named:
        return "none seen"
    return f"drifts, {signed_levels(item.drift.levels_per_year)} levels a year"


def _agreement_row(item: RaterAgreement) -> AgreementRow:
    kappa = item.kappa
    known = kappa.value is not None and kappa.low is not None and kappa.high is not None
    return AgreementRow(
        channel=item.channel,
        pair=f"{item.first} and {item.second}",
        drains=item.drains,
        same=item.same_level,
        difference=signed_levels(item.mean_difference),
        kappa=f"{kappa.value:.2f} ({kappa.low:.2f} to {kappa.high:.2f})" if known else "cannot tell yet",
    )
