"""The conclusions of a backtest in sentences: for each channel, for the first screen, and when all is well."""

from __future__ import annotations

from draincurve.pipeline.judging.backtest.channel_backtest import BacktestResult, ChannelBacktest
from draincurve.pipeline.judging.backtest.risk_calibration import RiskCheck
from draincurve.pipeline.judging.backtest.score_comparison import RivalScore
from draincurve.schemas.channels import title_of


def channel_verdict(score: float, fleet: RivalScore, *, whole: RiskCheck | None, within: RiskCheck | None) -> str:
    """One or two sentences on a channel: against the fleet's ratings so far, and on the risks."""
    return " ".join(part for part in (_against_fleet(score, fleet), _on_risk(whole, within)) if part)


def first_screen_sentence(result: BacktestResult) -> str | None:
    """Reasons not to trust the answers, for the first screen; None without any."""
    doubts = [_doubt(channel) for channel in result.channels if channel.model_loses or channel.understated]
    return " ".join(doubts) or None


def holding_sentence(result: BacktestResult) -> str:
    """One line for a backtest without doubts: how well predictions have held.

    It names the channels in which the model is closer by more than chance, and claims nothing of the others.
    """
    named = []
    for channel in result.channels:
        doubt = "too few units to tell" if channel.fleet.high is None else "not more than by chance"
        sure = "" if channel.fleet.beaten else f", {doubt}"
        named.append(
            f"{channel.channel} on {channel.drains} later drains, score {channel.score:.3f} against "
            f"{channel.fleet.score:.3f} for the fleet's ratings alone{sure}"
        )
    closer = " and ".join(channel.channel for channel in result.channels if channel.fleet.beaten)
    claim = f"Predictions of {closer} came closer" if closer else "Too early to say whether predictions hold"
    return f"{claim} (lower is closer): {'; '.join(named)}."


def _doubt(channel: ChannelBacktest) -> str:
    name = title_of(channel.channel)
    sentences = []
    if channel.model_loses:
        worse = "did worse than" if channel.fleet.wins else "was no closer than"
        sentences.append(
            f"{name}: tried on {channel.drains} later drains, the model {worse} the fleet's ratings alone "
            f"({channel.score:.3f} against {channel.fleet.score:.3f}, lower is closer)."
        )
    return " ".join((*sentences, f"{name}: {advice(channel)}"))


def advice(channel: ChannelBacktest) -> str:
    """What to do where the predictions of a channel did not hold: by whether more drains were past the limit.

    Everyday words. Of a model that was too cautious nothing is lengthened; it is only said.
    """
    within, whole = channel.within_risk, channel.whole
    checks = [check for check in (within, whole) if check is not None]
    understated = [check for check in checks if check.understated]
    check = next(iter(understated or [check for check in checks if check.past > check.expected]), whole)
    rely = f"do not rely on the hours for {channel.channel}"
    if check is None:
        return f"{rely}, and look at the oil."
    which = " within the hours that were predicted" if check is within else ""
    numbers = f"of {check.drains} later drains{which}, {_past(check)}, where {check.expected:.1f} were expected."
    if check.past > check.expected:
        begin = "the risk was understated: " if understated else ""
        return f"{begin}{numbers} So {rely}; change the oil earlier, and look."
    return (
        f"{numbers} The oil was cleaner than predicted; intervals may be shorter than needed. Keep to them, and look."
    )


def _against_fleet(score: float, fleet: RivalScore) -> str:
    numbers = f"score {score:.3f} against {fleet.score:.3f}, lower is closer"
    if fleet.beaten:
        return f"Closer than the fleet's ratings alone, by more than chance ({numbers})."
    if fleet.wins:
        return f"Worse than the fleet's ratings alone, by more than chance ({numbers})."
    if fleet.difference >= 0.0:
        return f"No closer than the fleet's ratings alone ({numbers})."
    if fleet.high is None:
        return f"Closer than the fleet's ratings alone ({numbers}); too few units to tell whether by chance."
    return f"Closer than the fleet's ratings alone, but the difference may be chance ({numbers})."


def _on_risk(whole: RiskCheck | None, within: RiskCheck | None) -> str:
    checks = [check for check in (whole, within) if check is not None]
    if any(check.understated for check in checks):
        sentence = _understated(whole, within)
        return f"{sentence[0].upper()}{sentence[1:]}"
    if within is not None:
        return (
            f"Of {within.drains} drains predicted at or under the accepted risk, {_past(within)}; "
            f"{within.expected:.1f} were expected."
        )
    if whole is not None:
        return f"Of {whole.drains} drains, {_past(whole)}; {whole.expected:.1f} were expected."
    return ""


def _understated(whole: RiskCheck | None, within: RiskCheck | None) -> str:
    """The check that failed, the one at the accepted risk first, since hours are set by it."""
    if within is not None and within.understated:
        check, which = within, " predicted at or under the accepted risk"
    else:
        assert whole is not None, "a channel is only called understated by one of its checks"
        check, which = whole, ""
    return (
        f"the risk was understated: of {check.drains} later drains{which}, {_past(check)}, where "
        f"{check.expected:.1f} were expected."
    )


def _past(check: RiskCheck) -> str:
    return f"{check.past} {'was' if check.past == 1 else 'were'} past the limit"
