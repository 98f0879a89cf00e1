"""The section on how earlier predictions held: the picture, scores and checks of each channel, in words."""

from __future__ import annotations

from dataclasses import dataclass

from matplotlib.figure import Figure

from draincurve.pipeline.judging.backtest import (
    BacktestResult,
    CalibrationBin,
    ChannelBacktest,
    IntervalCoverage,
    RivalScore,
    advice,
    first_screen_sentence,
    holding_sentence,
)
from draincurve.reports.content import wording
from draincurve.reports.figures.calibration_figure import draw_calibration
from draincurve.reports.figures.svg_picture import Picture, inline_picture
from draincurve.schemas.channels import title_of


@dataclass(frozen=True, slots=True)
class ScoreRow:
    """One prediction method: its score, the model's lead over it, and what the lead means."""

    name: str
    score: str
    lead: str
    meaning: str


@dataclass(frozen=True, slots=True)
class CoverageRow:
    """One nominal interval: the share of ratings inside, and the drains that contradict it."""

    nominal: str
    covered: str
    outside: int
    misses: int
    expected: str


@dataclass(frozen=True, slots=True)
class ChannelBacktestSection:
    """One channel in words; picture : None if no drain showed whether the limit was passed."""

    name: str
    title: str
    verdict: str
    basis: str
    picture: Picture | None
    scores: tuple[ScoreRow, ...]
    coverage: tuple[CoverageRow, ...]


@dataclass(frozen=True, slots=True)
class BacktestSection:
    """The whole section; plain : the summary without figures of the method, for the first screen.

    closer : channels whose predictions came closer than the fleet's ratings, by more than chance.
    warning : the summary is a reason not to trust the answers.
    """

    summary: str
    plain: str
    warning: bool
    without: tuple[str, ...]
    note: str
    channels: tuple[ChannelBacktestSection, ...]
    closer: tuple[str, ...] = ()


def backtest_section(figure: Figure, result: BacktestResult | str) -> BacktestSection:
    """A backtest, or the sentence why there is none, in words."""
    if isinstance(result, str):
        summary = f"Earlier predictions could not be tested: {wording.sentence(result)}"
        return BacktestSection(summary, summary, False, (), "", ())
    doubt = first_screen_sentence(result)
    return BacktestSection(
        summary=doubt or holding_sentence(result),
        plain=_summary(result),
        warning=doubt is not None,
        without=tuple(f"{title_of(channel)}: {why}." for channel, why in result.without),
        note="" if result.note is None else wording.sentence(result.note),
        channels=tuple(_channel(figure, channel) for channel in result.channels),
        closer=tuple(channel.channel for channel in result.channels if channel.fleet.beaten),
    )


def _summary(result: BacktestResult) -> str:
    """Whether earlier predictions held, in everyday words."""
    tried = max((channel.drains for channel in result.channels), default=0)
    lost = [channel for channel in result.channels if channel.model_loses or channel.understated]
    if lost:
        names = wording.listed([channel.channel for channel in lost])
        advices = " ".join(f"{title_of(channel.channel)}: {advice(channel)}" for channel in lost)
        return f"Tried on {wording.counted(tried, 'later drain')}, predictions of {names} did not hold. {advices}"
    closer = [channel.channel for channel in result.channels if channel.fleet.beaten]
    unsure = [channel.channel for channel in result.channels if not channel.fleet.beaten]
    if not closer:
        return f"Tried on {wording.counted(tried, 'later drain')}: too early to say whether predictions hold."
    not_shown = f"; for {wording.listed(unsure)} this is not shown" if unsure else ""
    return (
        f"Tried on {wording.counted(tried, 'later drain')}, predictions of {wording.listed(closer)} came closer than "
        f"the fleet's ratings so far{not_shown}."
    )


def _channel(figure: Figure, channel: ChannelBacktest) -> ChannelBacktestSection:
    first, last = channel.origins[0], channel.origins[-1]
    since = wording.day(first) if first == last else f"{wording.day(first)} to {wording.day(last)}"
    dates = wording.counted(len(channel.origins), "date")
    return ChannelBacktestSection(
        name=channel.channel,
        title=title_of(channel.channel),
        verdict=channel.verdict,
        basis=(
            f"Fitted as of {dates}, {since}, each time to the drains before; "
            f"{wording.counted(channel.drains, 'drain')} of {wording.counted(channel.units, 'unit')} came after "
            "and were predicted."
        ),
        picture=_picture(figure, channel) if channel.bins else None,
        scores=_scores(channel),
        coverage=tuple(_coverage(item) for item in channel.coverage),
    )


def _picture(figure: Figure, channel: ChannelBacktest) -> Picture:
    draw_calibration(figure, channel.bins, accepted_risk=channel.accepted_risk)
    return inline_picture(
        figure,
        f"calibration-{channel.channel}",
        title=f"{title_of(channel.channel)}: predicted chance of being past the limit, and what happened",
        description="; ".join(_described(item) for item in channel.bins),
    )


def _described(item: CalibrationBin) -> str:
    return f"predicted {100.0 * item.predicted:.1f} %: {item.past} of {item.drains} drains past the limit"


def _scores(channel: ChannelBacktest) -> tuple[ScoreRow, ...]:
    rivals = [channel.fleet, channel.fleet_by_hours, *([channel.boosted] if channel.boosted is not None else [])]
    ours = ScoreRow("this program's model", f"{channel.score:.3f}", "", "")
    return (ours, *(ScoreRow(item.name, f"{item.score:.3f}", lead_of(item), _meaning(item)) for item in rivals))


def lead_of(rival: RivalScore, *, digits: str = ".3f") -> str:
    """How much closer the model is, with the 95 % interval; digits : as a number's format gives them."""
    if rival.low is None or rival.high is None:
        return f"{-rival.difference:+{digits}}"
    return f"{-rival.difference:+{digits}} ({-rival.high:+{digits}} to {-rival.low:+{digits}})"


def _meaning(rival: RivalScore) -> str:
    if rival.beaten:
        return "model closer"
    if rival.wins:
        return "model worse"
    return "cannot tell: too few units" if rival.low is None else "may be chance"


def _coverage(item: IntervalCoverage) -> CoverageRow:
    return CoverageRow(
        nominal=wording.percent(item.nominal),
        covered=f"{100.0 * item.covered:.0f} % ({100.0 * item.low:.0f} to {100.0 * item.high:.0f})",
        outside=item.outside,
        misses=item.misses,
        expected=f"{item.expected:.1f} ({item.fewest} to {item.most})",
    )
