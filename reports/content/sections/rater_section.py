"""The page's section on raters: who rates harsher or more lenient, who drifts, how far they agree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.figure import Figure

from draincurve.pipeline.judging import ChannelTrust
from draincurve.pipeline.judging.raters import HARSHER, LENIENT, RaterAgreement, RaterFinding, RaterResult
from draincurve.reports.content import wording
from draincurve.reports.figures.rater_figure import RaterShiftRow, draw_raters
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
    """Two raters on the drains both rated, in words."""

    channel: str
    pair: str
    drains: int
    same: int
    difference: str
    kappa: str


@dataclass(frozen=True, slots=True)
class RaterSection:
    """Raters of all channels; `named` are the sentences on those to talk to, `notes` why some are not compared."""

    named: tuple[str, ...]
    notes: tuple[str, ...]
    picture: Picture | None
    rows: tuple[RaterRow, ...]
    agreements: tuple[AgreementRow, ...]
    double_rated: bool


def rater_section(figure: Figure, trust: Sequence[ChannelTrust]) -> RaterSection:
    """Everything the page says about raters."""
    results = [one.raters for one in trust if one.raters is not None]
    shared = [item for result in results for item in result.agreements]
    return RaterSection(
        named=tuple(f"{title_of(result.channel)}: {item.words}" for result in results for item in result.named),
        notes=tuple(note for result in results for note in _notes(result)),
        picture=_picture(figure, results),
        rows=tuple(_row(result.channel, item) for result in results for item in result.findings),
        agreements=tuple(_agreement_row(item) for item in shared),
        double_rated=bool(shared),
    )


def _notes(result: RaterResult) -> list[str]:
    """Why raters are not compared: no term in the fit, units of their own, or circles without a shared unit."""
    if result.why_not:
        return [f"{title_of(result.channel)}: {wording.sentence(result.why_not)}"]
    notes = [f"{title_of(result.channel)}: {item.words}" for item in result.findings if item.shift.levels is None]
    circles = sorted({tuple(sorted((item.shift.rater, *item.shift.compared_with))) for item in result.findings})
    if len(circles) > 1:
        groups = "; ".join(wording.listed(list(circle)) for circle in circles)
        notes.append(
            f"{title_of(result.channel)}: raters are held against each other only where they rated the same "
            f"units: {groups}."
        )
    return notes


def _picture(figure: Figure, results: Sequence[RaterResult]) -> Picture | None:
    lines = [
        RaterShiftRow(result.channel, item.shift.rater, *item.shift.levels, item.verdict in (HARSHER, LENIENT))
        for result in results
        for item in result.findings
        if item.shift.levels is not None
    ][:MOST_DRAWN]
    if not lines:
        return None
    draw_raters(figure, lines)
    described = "; ".join(f"{line.channel}, {line.name}: {_signed(line.levels)} levels" for line in lines)
    return inline_picture(figure, "raters", title="Raters compared", description=described)


def _row(channel: str, item: RaterFinding) -> RaterRow:
    shift = item.shift
    levels = "in the middle" if shift.in_the_middle else ""
    if shift.levels is not None and not shift.in_the_middle:
        middle, low, high = shift.levels
        levels = f"{_signed(middle)} ({_signed(low)} to {_signed(high)})"
    return RaterRow(
        channel=channel,
        rater=shift.rater,
        drains=shift.drains,
        units=f"{shift.shared_units} of {shift.units}",
        verdict=item.verdict,
        levels=levels,
        multiplier="" if shift.multiplier is None else wording.ratio(*shift.multiplier),
        drift=_drift(item),
    )


def _signed(levels: float) -> str:
    """Levels with their sign, and none on what rounds to nought."""
    return f"{levels:+.1f}" if abs(levels) >= 0.05 else "0.0"


def _drift(item: RaterFinding) -> str:
    if item.drift is None:
        return "cannot tell yet"
    if not item.drift.named:
        return "none seen"
    return f"drifts, {_signed(item.drift.levels_per_year)} levels a year"


def _agreement_row(item: RaterAgreement) -> AgreementRow:
    kappa = item.kappa
    told = kappa.value is not None and kappa.low is not None and kappa.high is not None
    return AgreementRow(
        channel=item.channel,
        pair=f"{item.first} and {item.second}",
        drains=item.drains,
        same=item.same,
        difference=_signed(item.mean_difference),
        kappa=f"{kappa.value:.2f} ({kappa.low:.2f} to {kappa.high:.2f})" if told else "cannot tell yet",
    )
