"""Expected information gain of one more drain: how much it would narrow a channel's log intervals.

Expected Fisher information of an ordinal rating about its thresholds, taken through to the covariances of parameters
and log intervals (Chaloner & Verdinelli 1995, Bayesian experimental design: a review, Stat. Sci. 10, 273-304: normal
approximation). The covariances are those of the posterior's draws, so that a log interval, which is no straight
function of the parameters, keeps its true variance. A unit's effect moves with the parameters and has an error of its
own; a drain of another unit meets only the parameters.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from draincurve.pipeline.fitting import ChannelFit, link_named, unit_sensitivity
from draincurve.schemas.array_types import Floats, Integers

_LEAST_PROBABILITY = 1e-12


@dataclass(frozen=True)
class LogIntervals:
    """Log intervals [log h] and their covariances: the fleet's mean one, and those of M units.

    with_fleet : (P,), of parameters with the fleet's;  fleet_variance;  with_units : (M, P), of parameters with each
    unit's own;  own_with_units : (M,), of a unit's own error with it;  unit_variances : (M,)
    """

    with_fleet: Floats
    fleet_variance: float
    with_units: Floats
    own_with_units: Floats
    unit_variances: Floats


@dataclass(frozen=True)
class ChannelInformation:
    """One channel about the mean of its draws: P natural parameters, M units (rows of the state), C candidates.

    covariance : (P, P); own : (M,), variance of each unit's effect about its mode, in sd of the unit effect
    jacobian : (C, K - 1, P + 1), slopes of each candidate's thresholds by the parameters and its unit's own error
    information : (C, K - 1, K - 1), of the rating about its thresholds;  row : (C,), the candidate's unit
    """

    covariance: Floats
    own: Floats
    intervals: LogIntervals
    jacobian: Floats
    information: Floats
    row: Integers

    def expected_drops(self) -> tuple[Floats, Floats]:
        """Drop in the variance of the fleet's log interval and of the unit's own, by candidate, (C,) each."""
        by_parameters, by_own = self.jacobian[:, :, :-1], self.jacobian[:, :, -1]
        to_fleet = by_parameters @ self.intervals.with_fleet
        to_unit = np.einsum("ckp,cp->ck", by_parameters, self.intervals.with_units[self.row])
        to_unit += by_own * self.intervals.own_with_units[self.row, None]
        gain = self._gain(np.arange(self.row.size))
        drops = _quadratic(to_unit, gain)
        return _quadratic(to_fleet, gain), np.minimum(drops, self.intervals.unit_variances[self.row])

    def after(self, candidate: int) -> ChannelInformation:
        """The same once a candidate has been drained and rated; its unit is not chosen again."""
        jacobian = self.jacobian[candidate, :, :-1]
        through = jacobian @ self.covariance
        gain = self._gain(np.array([candidate]))[0]
        before = self.intervals
        to_fleet = jacobian @ before.with_fleet
        to_units = before.with_units @ jacobian.T
        intervals = replace(
            before,
            with_fleet=before.with_fleet - through.T @ gain @ to_fleet,
            fleet_variance=before.fleet_variance - float(to_fleet @ gain @ to_fleet),
            with_units=before.with_units - to_units @ gain @ through,
            unit_variances=before.unit_variances - np.einsum("mk,kl,ml->m", to_units, gain, to_units),
        )
        return replace(self, covariance=self.covariance - through.T @ gain @ through, intervals=intervals)

    def _gain(self, candidates: Integers) -> Floats:
        """(information^-1 + covariance of the thresholds)^-1 for some candidates, (c, K - 1, K - 1)."""
        jacobian, information = self.jacobian[candidates], self.information[candidates]
        covariance = (jacobian[:, :, :-1] @ self.covariance) @ jacobian[:, :, :-1].transpose(0, 2, 1)
        covariance += jacobian[:, :, -1:] * jacobian[:, None, :, -1] * self.own[self.row[candidates]][:, None, None]
        gain = np.linalg.solve(np.eye(covariance.shape[1]) + information @ covariance, information)
        return np.asarray((gain + gain.transpose(0, 2, 1)) / 2)


def channel_information(
    fit: ChannelFit,
    state: pl.DataFrame,
    fleet: pl.DataFrame,
    row: Integers,
    hours: Floats,
    limit: int,
    accepted_risk: float,
) -> ChannelInformation:
    """A channel's expected narrowing by candidates: unit `row` (C,) of the state drained at `hours` (C,) [h].

    state, fleet : unit_key and the columns of the fit's terms, for the units asked about and for all whose mean
    interval is the fleet's; a level that is missing or was never seen counts as average. A unit without rated drains
    has the fleet's standard deviation.
    """
    model, objective = fit.fit, fit.fit.objective
    k = objective.layout.levels - 1
    draws = objective.layout.natural(fit.posterior.draws)
    mean = draws.mean(axis=0)
    effects = unit_sensitivity(objective.likelihood, mean)
    modes, variances, moves = _of_rows(fit, state, effects.modes, effects.variances, effects.slopes)
    # A unit's part in its thresholds, as slopes: by the unit sd, and through its mode, which the parameters move.
    unit_part = mean[-1] * moves
    unit_part[:, -1] += modes

    inner = np.column_stack((np.log(hours), _encoded(fit, state)[row])) - model.centres
    jacobian = np.zeros((row.size, k, mean.size + 1))
    jacobian[:, np.arange(k), np.arange(k)] = 1.0
    jacobian[:, :, k : mean.size - 1] -= inner[:, None, :]
    jacobian[:, :, :-1] -= unit_part[row][:, None, :]
    jacobian[:, :, -1] = -mean[-1]
    thresholds = mean[:k] - (inner @ mean[k:-1] + mean[-1] * modes[row])[:, None]
    return ChannelInformation(
        covariance=np.cov(draws.T),
        own=variances,
        intervals=_log_intervals(fit, state, fleet, variances, draws - mean, limit, accepted_risk),
        jacobian=jacobian,
        information=rating_information(model.link, thresholds),
        row=row,
    )


def rating_information(link: str, thresholds: Floats) -> Floats:
    """Expected Fisher information of one rating about its own thresholds (n, K - 1), ascending; (n, K - 1, K - 1)."""
    law = link_named(link)
    ends = np.zeros((thresholds.shape[0], 1))
    probability = np.diff(np.hstack((ends, law.cdf(thresholds), ends + 1.0)), axis=1)
    root = np.sqrt(np.maximum(probability, _LEAST_PROBABILITY))
    share = law.pdf(thresholds)[:, :, None] * (_steps(thresholds.shape[1]) / root[:, None])
    return np.asarray(share @ share.transpose(0, 2, 1))


def _steps(thresholds: int) -> Floats:
    """Raising a threshold moves probability into the level below it, out of the level above it; (K - 1, K)."""
    return np.eye(thresholds, thresholds + 1) - np.eye(thresholds, thresholds + 1, 1)


def _log_intervals(
    fit: ChannelFit,
    state: pl.DataFrame,
    fleet: pl.DataFrame,
    effect_variances: Floats,
    deviations: Floats,
    limit: int,
    risk: float,
) -> LogIntervals:
    """Covariances of the draws' log intervals with their parameters, `deviations` (S, P) from the mean."""
    jacobian = link_named(fit.fit.link).quantile(np.array([1.0 - risk]))[0]
    above = fit.threshold_of(limit) - jacobian
    of_fleet = (above - fit.coefficients @ _encoded(fit, fleet).mean(axis=0)) / fit.hours_slope
    of_units = (above - _encoded(fit, state) @ fit.coefficients.T) / fit.hours_slope
    step = fit.unit_sd / fit.hours_slope
    unit_index = fit.unit_index(state["unit_key"].to_list())
    seen = unit_index >= 0
    of_units[seen] -= step * fit.effects_of(unit_index[seen]).T
    interval_variances = of_units.var(axis=1, ddof=1) + np.where(seen, 0.0, np.mean(step**2))
    share = deviations / (deviations.shape[0] - 1)
    return LogIntervals(
        with_fleet=share.T @ of_fleet,
        fleet_variance=float(of_fleet.var(ddof=1)),
        with_units=of_units @ share,
        own_with_units=-float(step.mean()) * effect_variances,
        unit_variances=interval_variances,
    )


def _of_rows(
    fit: ChannelFit, state: pl.DataFrame, modes: Floats, variances: Floats, slopes: Floats
) -> tuple[Floats, Floats, Floats]:
    """Effects of the rows' units: mode 0, variance 1 and no slopes where a unit has no rated drain."""
    index = {key: index for index, key in enumerate(fit.unit_keys)}
    unit_index = np.array([index.get(key, len(index)) for key in state["unit_key"]], dtype=np.int64)
    return (
        np.append(modes, 0.0)[unit_index],
        np.append(variances, 1.0)[unit_index],
        np.vstack((slopes, np.zeros((1, slopes.shape[1]))))[unit_index],
    )


def _encoded(fit: ChannelFit, state: pl.DataFrame) -> Floats:
    """Design columns of the state's rows, (M, p)."""
    absent = [term.column for term in fit.drains.terms if term.column not in state.columns]
    state = state.with_columns(pl.lit(None, dtype=pl.String).alias(name) for name in absent)
    parts = [term.encode(state) for term in fit.drains.terms]
    return np.hstack(parts) if parts else np.empty((state.height, 0))


def _quadratic(vectors: Floats, matrices: Floats) -> Floats:
    return np.asarray(np.einsum("ck,ckl,cl->c", vectors, matrices, vectors))
