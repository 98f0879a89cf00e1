"""The fourth step: what the fits show about the fleet, and how far they can be trusted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from draincurve.pipeline.describing import Described, OilResult, fleet_catalogue, partners, second_ratings_in_fit
from draincurve.pipeline.fitting import Fitted, one_thread_if_small
from draincurve.pipeline.judging.backtest.channel_backtest import BacktestResult
from draincurve.pipeline.judging.backtest.rolling_origin import backtest
from draincurve.pipeline.judging.changepoints.unit_changepoints import UnitChangepoints, find_changepoints
from draincurve.pipeline.judging.channel_result import (
    ChannelResult,
    channel_result,
    unfitted_result,
    viscosity_sentences,
)
from draincurve.pipeline.judging.channel_trust import ChannelTrust, channel_trust
from draincurve.pipeline.judging.fit_warnings import fit_warnings
from draincurve.pipeline.judging.legs.leg_comparison import LegResult, compare_legs
from draincurve.pipeline.judging.legs.leg_swaps import possible_swaps
from draincurve.pipeline.judging.springs.spring_comparison import (
    SpringComparison,
    compare_springs,
    spring_effects_table,
)
from draincurve.pipeline.judging.volume.unit_balance import VolumeResult
from draincurve.pipeline.judging.volume.volume_balance import volume_balance
from draincurve.pipeline.random_streams import stream
from draincurve.pipeline.reading import Log
from draincurve.pipeline.stopwatch import Stopwatch
from draincurve.schemas.channels import title_of
from draincurve.schemas.settings import Settings

PLAN_ORIGINS = 3
"""Past dates as of which the main job tests its own predictions; the backtest command takes more."""


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Judged:
    """Findings on channels, raters, units that turned, legs, volumes, springs, oils and earlier predictions.

    channels, trust : one for each channel, in their order; changepoints : None without a fit; spring_effects :
    `springs` as a table; backtest : or a sentence why nothing was tried; oils : None without a catalogue; warnings :
    sentences to read before trusting the answers
    """

    channels: tuple[ChannelResult, ...]
    trust: tuple[ChannelTrust, ...]
    changepoints: UnitChangepoints | None
    legs: LegResult
    volume: VolumeResult
    springs: tuple[SpringComparison, ...]
    spring_effects: pl.DataFrame
    backtest: BacktestResult | str
    oils: OilResult | None
    warnings: tuple[str, ...]


@one_thread_if_small
def judge(
    described: Described, fitted: Fitted, *, log: Log, settings: Settings, watch: Stopwatch | None = None
) -> Judged:
    """Every judgement on a fleet's fits. Random numbers are drawn by purpose, so none depends on another.

    Raises ContractError where the table of springs breaks its schema.
    """
    watch = watch or Stopwatch()
    with watch.stage("judging"):
        channels = _channels(described, fitted, settings=settings)
    with watch.stage("watching units and raters"):
        trust = _trust(described, fitted, log=log, settings=settings)
        changepoints = find_changepoints(
            fitted.oil,
            settings.priors,
            rng=stream(settings.seed, "watch units"),
            kept_units=described.processing.watched_units,
        )
    with watch.stage("comparing legs"):
        legs = _legs(described, fitted, settings=settings)
    with watch.stage("balancing volumes"):
        how = described.processing
        volume = volume_balance(
            described.drains, carry_over_units=how.carry_over_units, described_units=how.balance_units
        )
    with watch.stage("comparing springs"):
        springs = compare_springs(fitted.sample_fits, settings, rng=stream(settings.seed, "springs"))
    with watch.stage("trying earlier predictions"):
        rng = stream(settings.seed, "backtest")
        held = backtest(
            described.model_drains,
            settings,
            rng=rng,
            origins=PLAN_ORIGINS,
            rivals=False,
            second_ratings=second_ratings_in_fit(log, described.processing),
        )
    return Judged(
        channels=channels,
        trust=trust,
        changepoints=changepoints,
        legs=legs,
        volume=volume,
        springs=springs,
        spring_effects=spring_effects_table(springs),
        backtest=held,
        oils=_catalogue(described, fitted, log=log),
        warnings=(*fit_warnings(channels, described.drains), *_about_reference(trust)),
    )


def _channels(described: Described, fitted: Fitted, *, settings: Settings) -> tuple[ChannelResult, ...]:
    return tuple(
        unfitted_result(described.rated[channel], settings, why_not=fit)
        if isinstance(fit, str)
        else channel_result(
            fit, described.combinations, settings=settings, rng=stream(settings.seed, f"evidence {channel}")
        )
        for channel, fit in fitted.channels.items()
    )


def _trust(described: Described, fitted: Fitted, *, log: Log, settings: Settings) -> tuple[ChannelTrust, ...]:
    return tuple(
        channel_trust(
            described.rated[channel],
            fit,
            few=fitted.sampled[channel],
            second_ratings=log.second_ratings,
            drifts=fitted.drifts.get(channel),
            combinations=described.combinations,
            settings=settings,
            reference_rater=described.reference_rater,
        )
        for channel, fit in fitted.channels.items()
    )


def _about_reference(trust: Sequence[ChannelTrust]) -> tuple[str, ...]:
    """A sentence for each channel for which the reference rater rated nothing."""
    raters = [result.raters for result in trust if result.raters is not None]
    return tuple(
        f"{title_of(result.channel)}: {result.reference_text}" for result in raters if not result.reference_rated
    )


def _legs(described: Described, fitted: Fitted, *, settings: Settings) -> LegResult:
    pairs, fits = described.pairs, fitted.sample_fits
    search = possible_swaps(fits, pairs, drains=described.drains)
    compared = compare_legs(fits, pairs, rule=settings.standing)
    return LegResult(partners(pairs), compared, search.swaps, described.unpaired, search.unseen)


def _catalogue(described: Described, fitted: Fitted, *, log: Log) -> OilResult | None:
    oils = log.accepted.get("oils")
    if oils is None:
        return None
    in_model = (described.oil_description, *viscosity_sentences(fitted.fits.values()))
    return fleet_catalogue(oils, described.drains, in_model=in_model)
