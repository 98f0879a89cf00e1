"""One channel fitted: the rating model on a channel's drains, with draws of everything that decisions need."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from draincurve.pipeline.describing import RatedDrains
from draincurve.pipeline.fitting.engine.local_engine import HERE, Engine
from draincurve.pipeline.fitting.posterior.posterior_draws import Posterior, sample_posterior
from draincurve.pipeline.fitting.posterior.reweighted_draws import reweighted_posterior
from draincurve.pipeline.fitting.rating_model import PointFit, fit_rating_model
from draincurve.pipeline.fitting.thread_limits import one_thread
from draincurve.pipeline.fitting.unit_effects.first_order_draws import first_order_effects
from draincurve.pipeline.fitting.unit_effects.grid_draws import draw_unit_effects
from draincurve.pipeline.processing import FitProcessing, fit_processing, sample_fit_processing
from draincurve.pipeline.random_streams import stream
from draincurve.schemas.array_types import Floats, Integers
from draincurve.schemas.channels import RATING_LEVELS
from draincurve.schemas.settings import Settings


@dataclass(frozen=True)
class ChannelFit:
    """Draws of one channel's parameters, S of them, on the scale of log hours.

    thresholds (S, K - 1); hours_slope (S,); coefficients (S, p), columns as in `drains.terms`; unit_sd (S,);
    group_sds (S, G), one for each pooled term; effects (S, U), units as in `unit_keys`, in sd of the unit effect, or
    None where they are drawn later from `effects_seed`: with those of another channel, or by `effects_of` for units
    that need them; processing : how the channel was fitted.
    """

    drains: RatedDrains
    fit: PointFit
    posterior: Posterior
    thresholds: Floats
    hours_slope: Floats
    coefficients: Floats
    unit_sd: Floats
    group_sds: Floats
    effects: Floats | None
    unit_keys: tuple[str, ...]
    processing: FitProcessing
    effects_seed: int = 0

    @property
    def draws(self) -> int:
        """Number of draws S."""
        return int(self.hours_slope.size)

    def threshold_of(self, limit: int) -> Floats:
        """Threshold at or over which a rating is `limit` or more, (S,); the first column is that of rating 2."""
        return self.thresholds[:, limit - 2]

    def has_parameters_of(self, drains: RatedDrains) -> bool:
        """Whether a fit of other drains of the channel has the same parameters.

        The steps of a drift are between periods of a log's own rows, so no two logs have the same.
        """
        if any(term.kind == "drift" for term in drains.terms):
            return False
        these, others = (
            [(covariate.column, covariate.kind, covariate.levels, covariate.width) for covariate in rated.terms]
            for rated in (self.drains, drains)
        )
        return these == others

    @cached_property
    def _index_of(self) -> dict[str, int]:
        return {key: index for index, key in enumerate(self.unit_keys)}

    def unit_index(self, unit_keys: Sequence[str]) -> Integers:
        """Index of each unit among the fit's, -1 for one without rated drains."""
        return np.array([self._index_of.get(key, -1) for key in unit_keys], dtype=np.int64)

    @cached_property
    def rated(self) -> Integers:
        """Rated drains of each unit, (U,)."""
        return np.diff(self.fit.objective.likelihood.ratings.starts)

    def of_units(self, units: Integers) -> ChannelFit:
        """The same fit with the ratings of some units only, small enough to be sent to a worker.

        Effects that are not drawn yet get their own random numbers, seeded by the first unit's key.
        """
        keys = tuple(self.unit_keys[unit] for unit in units)
        whole = self.fit.objective.likelihood
        objective = self.fit.objective.of_units(units)
        objective.likelihood.modes = whole.modes[units]
        fit = replace(
            self.fit,
            unit_labels=keys,
            unit_effects=self.fit.unit_effects[units],
            objective=objective,
            order=self.fit.order[:0].copy(),
        )
        return replace(
            self,
            drains=_without_rows(self.drains),
            fit=fit,
            effects=None if self.effects is None else self.effects[:, units],
            unit_keys=keys,
            effects_seed=int(stream(self.effects_seed, keys[0] if keys else "").integers(2**62)),
        )

    def with_units_as_one(self, groups: Mapping[str, Sequence[str]]) -> ChannelFit:
        """The same fit with the ratings of some units only, those of each group as one unit's.

        groups : unit keys by the key of the one. Parameters stay as they are.
        """
        index_of_key = {key: self.unit_index(units) for key, units in groups.items()}
        units_of_key = {key: index[index >= 0] for key, index in index_of_key.items() if (index >= 0).any()}
        part = self.of_units(np.concatenate([np.empty(0, dtype=np.int64), *units_of_key.values()]))
        objective = part.fit.objective
        begins = np.cumsum([0, *(units.size for units in units_of_key.values())])
        likelihood = objective.likelihood.with_units_joined(begins)
        fit = replace(
            part.fit,
            unit_labels=tuple(units_of_key),
            unit_effects=likelihood.modes,
            objective=replace(objective, likelihood=likelihood),
        )
        return replace(part, fit=fit, effects=None, unit_keys=tuple(units_of_key))

    def of_draws(self, count: int) -> ChannelFit:
        """The same fit with `count` of its draws; itself where it has no more."""
        if count == self.draws:
            return self
        chosen = np.linspace(0, self.draws - 1, count).astype(np.int64)
        return replace(
            self,
            posterior=self.posterior.of_draws(chosen),
            thresholds=self.thresholds[chosen],
            hours_slope=self.hours_slope[chosen],
            coefficients=self.coefficients[chosen],
            unit_sd=self.unit_sd[chosen],
            group_sds=self.group_sds[chosen],
            effects=None if self.effects is None else self.effects[chosen],
        )

    def with_effects(self) -> ChannelFit:
        """The same fit with draws of every unit's effect; unchanged where only some units need them."""
        if self.effects is not None or self.processing.linear_effects:
            return self
        natural = self.fit.objective.layout.natural(self.posterior.draws)
        rng = stream(self.effects_seed, "effects")
        return replace(self, effects=draw_unit_effects(self.fit.objective.likelihood, natural, rng=rng))

    def effects_of(self, units: Integers) -> Floats:
        """Draws of some units' effects, (S, units); the same selection always gets the same draws."""
        if self.effects is not None:
            return self.effects[:, units]
        if not units.size:
            return np.empty((self.draws, 0))
        rng = stream(self.effects_seed, f"effects of {units.size} units from {units[0]}")
        natural = self.fit.objective.layout.natural(self.posterior.draws)
        return first_order_effects(self.fit.objective.likelihood, natural, units=units, rng=rng)


def fit_processing_of(drains: RatedDrains) -> FitProcessing:
    """How a channel's rated drains are fitted."""
    return fit_processing(units=drains.rows["unit_key"].n_unique(), drains=drains.low.size)


def fit_channel(
    drains: RatedDrains,
    settings: Settings,
    *,
    rng: np.random.Generator,
    engine: Engine = HERE,
    processing: FitProcessing | None = None,
    effects_later: bool = False,
    near: ChannelFit | None = None,
) -> ChannelFit | str:
    """The fit of a channel, or a sentence why there is none.

    drains : one channel's rated drains; rng : seeded generator for the posterior's draws; engine : where a large
    fleet's passes are made; processing : how to fit, by itself as the number of units and drains calls for;
    effects_later : whether unit effects are left to `with_effects`, or to be drawn with those of another channel;
    near : a fit of the same parameters to nearly the same drains, whose draws serve here too where near enough.
    """
    if drains.low.size == 0:
        return (
            f"no drain with known hours has a {drains.channel} rating, so nothing can be said from {drains.channel}"
        )
    processing = processing or fit_processing_of(drains)
    drains = drains.with_unseen_levels_merged(settings.limit_rating(drains.channel))
    start = None if near is None else near.fit.maximum.point.working
    fit = fit_mode(drains, settings, engine=engine, processing=processing, start=start)
    draws = settings.posterior_draws if processing.draws is None else processing.draws
    posterior = None
    if near is not None:
        moved = near.fit.centres + near.drains.origin - fit.centres - drains.origin
        posterior = reweighted_posterior(fit, near.posterior, moved=moved, rng=rng)
    if posterior is None:
        posterior = sample_posterior(
            fit,
            draws,
            rng=rng,
            draws_per_round=processing.draws_per_round,
            normal=processing.normal_posterior,
        )
    channel_fit = with_draws(drains, fit, posterior=posterior, rng=rng, processing=processing)
    return channel_fit if effects_later else channel_fit.with_effects()


def fit_sample(drains: RatedDrains, settings: Settings, *, rng: np.random.Generator) -> ChannelFit | str:
    """The fit of a sample of a large fleet, with draws of every unit's effect."""
    processing = sample_fit_processing(units=drains.rows["unit_key"].n_unique(), drains=drains.low.size)
    channel_fit = fit_channel(drains, settings, rng=rng, processing=processing)
    if isinstance(channel_fit, str):
        return channel_fit
    return replace(channel_fit, effects=channel_fit.effects_of(np.arange(len(channel_fit.unit_keys))))


def fit_mode(
    drains: RatedDrains,
    settings: Settings,
    *,
    engine: Engine | None = None,
    processing: FitProcessing | None = None,
    start: Floats | None = None,
) -> PointFit:
    """The posterior mode of a channel's rating model under the shop's settings; drains must hold at least one row.

    start : as in `fit_rating_model`
    """
    processing = processing or fit_processing_of(drains)
    drains = drains.with_unseen_levels_merged(settings.limit_rating(drains.channel))
    with one_thread(when=processing.one_thread):
        return fit_rating_model(
            drains.low,
            drains.log_hours,
            drains.design,
            drains.units,
            link=settings.link,
            n_nodes=settings.quadrature_nodes,
            prior=settings.priors,
            ratings_high=drains.high,
            levels=RATING_LEVELS,
            pooled=drains.pooled(),
            column_scales=drains.column_scales(settings.priors),
            column_means=drains.column_means(settings.priors),
            engine=engine,
            single_pass=processing.single_pass,
            start=start,
        )


def with_draws(
    drains: RatedDrains, fit: PointFit, *, posterior: Posterior, rng: np.random.Generator, processing: FitProcessing
) -> ChannelFit:
    """A fit with its draws on the scale of log hours, without those of unit effects."""
    thresholds, columns, unit_sd = fit.natural_draws(posterior.draws)
    return ChannelFit(
        drains=drains,
        fit=fit,
        posterior=posterior,
        thresholds=thresholds,
        hours_slope=columns[:, 0],
        coefficients=columns[:, 1:],
        unit_sd=unit_sd,
        group_sds=np.exp(posterior.draws[:, fit.objective.layout.group_log_sds]),
        effects=None,
        unit_keys=tuple(str(label) for label in fit.unit_labels),
        processing=processing,
        effects_seed=int(rng.integers(2**62)),
    )


def _without_rows(drains: RatedDrains) -> RatedDrains:
    """The terms and names of rated drains, without the drains."""
    none = np.empty(0, dtype=np.int64)  # a slice would keep the whole array
    return replace(
        drains,
        rows=drains.rows.clear(),
        low=drains.low[none],
        high=drains.high[none],
        log_hours=drains.log_hours[none],
        design=drains.design[none],
        units=drains.units[none],
    )
