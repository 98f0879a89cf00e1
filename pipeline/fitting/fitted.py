"""The third step: every channel's rating model fitted, of a large fleet also to a sample of its units."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import polars as pl

from draincurve.pipeline.describing import Described, RatedDrains, as_texts, describe_channel
from draincurve.pipeline.fitting.channel_fit import ChannelFit, fit_channel, fit_sample
from draincurve.pipeline.fitting.degradation.fitted_quantity import fits_of_series
from draincurve.pipeline.fitting.double_ratings import RATER_COLUMN, with_double_ratings
from draincurve.pipeline.fitting.drift_columns import with_drift_columns
from draincurve.pipeline.fitting.engine.local_engine import HERE, Engine
from draincurve.pipeline.fitting.joint.joint_fit import JointFit, join_channels
from draincurve.pipeline.fitting.joint.unit_condition import QuantityFits, with_conditions_joined
from draincurve.pipeline.fitting.rater_drift import RaterDrift, drifting_raters, rater_drifts
from draincurve.pipeline.fitting.thread_limits import one_thread_if_small
from draincurve.pipeline.random_streams import stream
from draincurve.pipeline.stopwatch import Stopwatch
from draincurve.schemas.settings import Settings

_UNSURE = "which end of the scale is clean is asked about, so until the answer nothing can be said from {channel}"


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class OilFit:
    """Fits of the channels that have one, all with the same number of draws, and what joins them."""

    fits: Mapping[str, ChannelFit]
    joint: JointFit | None


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Fitted:
    """Fits of the rating model.

    channels : channel to its fit, or to a sentence why there is none; sampled : the same for the sample of a large
    fleet, and for any other the same fits; interpretations : the channels that have a fit, for each other
    interpretation of what is asked about; joint : what joins the channels of `channels`; wear : by name and unit of a
    measured quantity, the fit to show, and perhaps one without measurements in doubt
    drifts : by channel, raters whose drift could be tested; that of named ones is taken out of the fits
    with_drift : the channels with no drift taken out, where the log does not say which rater is steady; the shorter
    interval counts
    """

    channels: Mapping[str, ChannelFit | str]
    sampled: Mapping[str, ChannelFit | str]
    interpretations: tuple[OilFit, ...] = ()
    joint: JointFit | None = None
    wear: Mapping[tuple[str, str], QuantityFits] = field(default_factory=dict)
    drifts: Mapping[str, tuple[RaterDrift, ...]] = field(default_factory=dict)
    with_drift: OilFit | None = None

    @property
    def fits(self) -> dict[str, ChannelFit]:
        """The channels that have a fit."""
        return _fits_among(self.channels)

    @property
    def oil(self) -> OilFit:
        """The channels that have a fit, with what joins them."""
        return OilFit(self.fits, self.joint)

    @property
    def sample_fits(self) -> tuple[ChannelFit, ...]:
        """The fits of the sample, in the order of the channels."""
        return tuple(_fits_among(self.sampled).values())

    def without_drains(self) -> Fitted:
        """The same with draws and terms only, without drains and units, which in a large log take gigabytes."""
        nobody = np.empty(0, dtype=np.int64)
        light = {channel: fit.of_units(nobody) for channel, fit in self.fits.items()}
        return Fitted({**self.channels, **light}, {}, joint=self.joint and self.joint.without_units())


@one_thread_if_small
def fit(described: Described, settings: Settings, *, engine: Engine = HERE, watch: Stopwatch | None = None) -> Fitted:
    """The rating model of every channel.

    engine : where a large fleet's passes are made.
    """
    watch = watch or Stopwatch()
    channels: dict[str, ChannelFit | str] = {}
    for channel, drains in described.rated.items():
        with watch.stage(f"fitting {channel}"):
            channels[channel] = (
                _UNSURE.format(channel=channel)
                if channel in described.unsure_scales
                else _channel(drains, settings, engine)
            )
    with watch.stage("fitting a sample"):
        sampled = sample_fits(channels, described.model_drains, described.sample, settings)
        # A drift that a sample does not show is too small to matter.
        drifts = {channel: rater_drifts(fit) for channel, fit in _fits_among(sampled).items()}
    drifting = {channel: named for channel, tested in drifts.items() if (named := drifting_raters(tested))}
    as_rated, most_steps = dict(channels), described.processing.drift_steps
    for channel, raters in drifting.items():
        with watch.stage("taking out drifts"):
            walked = with_drift_columns(described.rated[channel], raters, most_steps=most_steps)
            channels[channel] = _channel(walked, settings, engine)
            of_channel = {channel: channels[channel]}
            sampled |= sample_fits(of_channel, described.model_drains, described.sample, settings)
    with watch.stage("joining channels"):
        of_sample = _joined(_fits_among(sampled), settings)
        whole = Fitted(channels, sampled).fits
        large = any(fit.processing.linear_effects for fit in whole.values())
        oil = _as_sampled(whole, of_sample) if large else of_sample
    with_drift = None
    if any(not _reference_is_steady(drifts[channel], described.reference_rater) for channel in drifting):
        fits = _fits_among(as_rated)
        with_drift = _as_sampled(fits, of_sample) if large else _joined(fits, settings)
    interpretations: list[OilFit] = []
    for asked in described.rated_by_interpretation:
        with watch.stage("fitting what is asked about"):
            changed = {
                name: _without_drift(rated, drifting.get(name, ()), most_steps=most_steps)
                for name, rated in asked.items()
            }
            near = _near(changed, [oil, *interpretations])
            refitted = {**channels, **_interpretation_fits(changed, near, settings, engine)}
            interpretations.append(_joined(_fits_among(refitted), settings, near=near))
    wear: tuple[QuantityFits, ...] = ()
    if described.measured:
        with watch.stage("fitting measured quantities"):
            wear = tuple(fits_of_series(series, settings) for series in described.measured)
            if not large:
                interpretations = [_with_conditions(fits, described, wear, settings)[0] for fits in interpretations]
                if with_drift is not None:
                    with_drift = _with_conditions(with_drift, described, wear, settings)[0]
                of_sample, wear = _with_conditions(of_sample, described, wear, settings)
                oil = of_sample
    measured = {
        (series.quantity.name, series.unit): fits_of_quantity
        for series, fits_of_quantity in zip(described.measured, wear, strict=True)
    }
    return Fitted(
        {**channels, **oil.fits},
        {**sampled, **of_sample.fits},
        tuple(interpretations),
        oil.joint,
        measured,
        drifts,
        with_drift,
    )


def _fits_among(channels: Mapping[str, ChannelFit | str]) -> dict[str, ChannelFit]:
    """The channels that have a fit."""
    return {channel: fit for channel, fit in channels.items() if isinstance(fit, ChannelFit)}


def _without_drift(drains: RatedDrains, raters: Sequence[str], *, most_steps: int | None) -> RatedDrains:
    """Drains by another interpretation, with the random walks of the raters who still have drains among them."""
    there = set(drains.rows[RATER_COLUMN].cast(pl.String).drop_nulls().unique())
    return with_drift_columns(drains, [rater for rater in raters if rater in there], most_steps=most_steps)


def _reference_is_steady(drifts: Sequence[RaterDrift], reference: str | None) -> bool:
    """Whether the reference rater is known to be steady: tested, not named, and not one of two only.

    Of two raters either may be the one who drifts.
    """
    named = drifting_raters(drifts)
    return len(drifts) > 2 and any(drift.rater == reference and drift.rater not in named for drift in drifts)


def _with_conditions(
    oil: OilFit, described: Described, wear: tuple[QuantityFits, ...], settings: Settings
) -> tuple[OilFit, tuple[QuantityFits, ...]]:
    """The oil and the measured quantities, each updated by the other: one condition of a unit."""
    rng = stream(settings.seed, "joining measured quantities")
    fits, joint, updated = with_conditions_joined(dict(oil.fits), oil.joint, described.measured, wear, rng=rng)
    return OilFit(fits, joint), updated


def _near(changed: Mapping[str, RatedDrains], known: Sequence[OilFit]) -> OilFit | None:
    """The first of the known fits with the parameters that the channels of another interpretation have."""
    return next(
        (oil for oil in known if all(_same_parameters(oil.fits.get(name), rated) for name, rated in changed.items())),
        None,
    )


def _interpretation_fits(
    changed: Mapping[str, RatedDrains], near: OilFit | None, settings: Settings, engine: Engine
) -> dict[str, ChannelFit | str]:
    """The fits of the channels that another interpretation changes; near : known fits whose draws may serve."""
    return {
        name: _channel(rated, settings, engine, near=None if near is None else near.fits[name])
        for name, rated in changed.items()
    }


def _same_parameters(fit: ChannelFit | None, drains: RatedDrains) -> bool:
    return fit is not None and fit.has_parameters_of(drains)


def _channel(
    drains: RatedDrains, settings: Settings, engine: Engine, *, near: ChannelFit | None = None
) -> ChannelFit | str:
    """The fit of a channel, whose unit effects are drawn when the channels are joined; near : as in `fit_channel`."""
    rng = stream(settings.seed, f"fit {drains.channel}")
    channel_fit = fit_channel(drains, settings, rng=rng, engine=engine, effects_later=True, near=near)
    return channel_fit if isinstance(channel_fit, str) else with_double_ratings(channel_fit)


def _joined(fits: Mapping[str, ChannelFit], settings: Settings, *, near: OilFit | None = None) -> OilFit:
    known = None if near is None or near.joint is None else (near.fits, near.joint)
    return OilFit(*join_channels(fits, settings.priors, rng=stream(settings.seed, "joining channels"), near=known))


def _as_sampled(fits: Mapping[str, ChannelFit], sample: OilFit) -> OilFit:
    """A large fleet's fits with the association of its sample; unit effects stay each channel's own."""
    draws = min((fit.draws for fit in (*fits.values(), *sample.fits.values())), default=0)
    joint = sample.joint
    if joint is not None and set(joint.channels) != set(fits):
        joint = None
    return OilFit(
        {channel: fit.with_effects().of_draws(draws) for channel, fit in fits.items()},
        joint and joint.without_units(draws),
    )


def sample_fits(
    channels: Mapping[str, ChannelFit | str], drains: pl.DataFrame, sample: pl.DataFrame, settings: Settings
) -> dict[str, ChannelFit | str]:
    """By channel, the fit of the sample's drains where the channel's fit has no draws of unit effects, else that fit.

    Drifts are taken out as in the channel's fit.
    channels : their fits, or why there is none; sample : its units, as `sampled_state` gives them.
    """
    of_sample = as_texts(drains.filter(pl.col("unit_key").is_in(sample["unit_key"].implode())))
    fits: dict[str, ChannelFit | str] = {}
    for channel, fit in channels.items():
        fits[channel] = fit
        if isinstance(fit, ChannelFit) and fit.processing.linear_effects:
            walks = [term for term in fit.drains.terms if term.kind == "drift"]
            rated = with_drift_columns(
                describe_channel(of_sample, channel),
                [term.rater for term in walks],
                most_steps=sum(term.steps for term in walks),
            )
            if rated.low.size:
                fits[channel] = fit_sample(rated, settings, rng=stream(settings.seed, f"sample {channel}"))
    return fits
