"""How much one more drain would narrow a channel's answers, before its rating is known.

Expected Fisher information of an ordinal rating about its thresholds, taken through to the covariances of parameters
and log intervals (Chaloner & Verdinelli 1995, Bayesian experimental design: a review, Stat. Sci. 10, 273-304: normal
approximation). The covariances are those of the posterior's draws, so that a log interval, which is no straight
function of the parameters, keeps its true spread. A unit's effect moves with the parameters and has an error of its
own; a drain of another unit meets only the parameters.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from draincurve.pipeline.fitting import ChannelFit, link_named, unit_sensitivity
from draincurve.schemas.array_types import Floats, Integers

_LEAST_CHANCE = 1e-12


@dataclass(frozen=True)
class Answers:
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
class Narrowing:
    """One channel about the mean of its draws: P natural parameters, M units (rows of the state), C candidates.

    covariance : (P, P); own : (M,), variance of each unit's effect about its mode, in sd of the unit effect
    reach : (C, K - 1, P + 1), slopes of each candidate's cuts by the parameters and its unit's own error
    information : (C, K - 1, K - 1), of the rating about its cuts;  row : (C,), the candidate's unit
    """

    covariance: Floats
    own: Floats
    answers: Answers
    reach: Floats
    information: Floats
    row: Integers

    def expected_drops(self) -> tuple[Floats, Floats]:
        """Drop in the variance of the fleet's log interval and of the unit's own, by candidate, (C,) each."""
        by_parameters, by_own = self.reach[:, :, :-1], self.reach[:, :, -1]
        to_fleet = by_parameters @ self.answers.with_fleet
        to_unit = np.einsum("ckp,cp->ck", by_parameters, self.answers.with_units[self.row])
        to_unit += by_own * self.answers.own_with_units[self.row, None]
        gain = self._gain(np.arange(self.row.size))
        drops = _quadratic(to_unit, gain)
        return _quadratic(to_fleet, gain), np.minimum(drops, self.answers.unit_variances[self.row])

    def after(self, candidate: int) -> Narrowing:
        """The same once a candidate has been drained and rated; its unit is not to be asked for again."""
        reach = self.reach[candidate, :, :-1]
        through = reach @ self.covariance
        gain = self._gain(np.array([candidate]))[0]
        before = self.answers
        to_fleet = reach @ before.with_fleet
        to_units = before.with_units @ reach.T
        answers = replace(
            before,
            with_fleet=before.with_fleet - through.T @ gain @ to_fleet,
            fleet_variance=before.fleet_variance - float(to_fleet @ gain @ to_fleet),
            with_units=before.with_units - to_units @ gain @ through,
            unit_variances=before.unit_variances - np.einsum("mk,kl,ml->m", to_units, gain, to_units),
        )
        return replace(self, covariance=self.covariance - through.T @ gain @ through, answers=answers)

    def _gain(self, at: Integers) -> Floats:
        """(information^-1 + covariance of the cuts)^-1 for some candidates, (c, K - 1, K - 1)."""
        reach, information = self.reach[at], self.information[at]
        spread = (reach[:, :, :-1] @ self.covariance) @ reach[:, :, :-1].transpose(0, 2, 1)
        spread += reach[:, :, -1:] * reach[:, None, :, -1] * self.own[self.row[at]][:, None, None]
        gain = np.linalg.solve(np.eye(spread.shape[1]) + information @ spread, information)
        return np.asarray((gain + gain.transpose(0, 2, 1)) / 2)


def narrowing(
    fit: ChannelFit,
    state: pl.DataFrame,
    fleet: pl.DataFrame,
    row: Integers,
    hours: Floats,
    limit: int,
    accepted_risk: float,
) -> Narrowing:
    """A channel's narrowing for candidates: unit `row` (C,) of the state drained at `hours` (C,) [h].

    state, fleet : unit_key and the columns of the fit's terms, for the units asked about and for all whose mean
    interval is the fleet's; a level that is missing or was never seen counts as average. A unit without rated drains
    has the fleet's spread.
    """
    model, objective = fit.fit, fit.fit.objective
    k = objective.layout.levels - 1
    draws = objective.layout.natural(fit.posterior.draws)
    at = draws.mean(axis=0)
    effects = unit_sensitivity(objective.likelihood, at)
    modes, own, moves = _of_rows(fit, state, effects.modes, effects.variances, effects.slopes)
    # A unit's part in its cuts, as slopes: the spread's own, and what its mode does when the parameters move.
    unit_part = at[-1] * moves
    unit_part[:, -1] += modes

    inner = np.column_stack((np.log(hours), _encoded(fit, state)[row])) - model.centres
    reach = np.zeros((row.size, k, at.size + 1))
    reach[:, np.arange(k), np.arange(k)] = 1.0
    reach[:, :, k : at.size - 1] -= inner[:, None, :]
    reach[:, :, :-1] -= unit_part[row][:, None, :]
    reach[:, :, -1] = -at[-1]
    cuts = at[:k] - (inner @ at[k:-1] + at[-1] * modes[row])[:, None]
    return Narrowing(
        covariance=np.cov(draws.T),
        own=own,
        answers=_answers(fit, state, fleet, own, draws - at, limit, accepted_risk),
        reach=reach,
        information=rating_information(model.link, cuts),
        row=row,
    )


def rating_information(link: str, cuts: Floats) -> Floats:
    """Expected Fisher information of one rating about its own cuts (n, K - 1), ascending; (n, K - 1, K - 1)."""
    law = link_named(link)
    ends = np.zeros((cuts.shape[0], 1))
    chance = np.diff(np.hstack((ends, law.cdf(cuts), ends + 1.0)), axis=1)
    share = law.pdf(cuts)[:, :, None] * (_steps(cuts.shape[1]) / np.sqrt(np.maximum(chance, _LEAST_CHANCE))[:, None])
    return np.asarray(share @ share.transpose(0, 2, 1))


def _steps(cuts: int) -> Floats:
    """Which levels a cut moves chance between: into the one below, out of the one above; (K - 1, K)."""
    return np.eye(cuts, cuts + 1) - np.eye(cuts, cuts + 1, 1)


def _answers(
    fit: ChannelFit, state: pl.DataFrame, fleet: pl.DataFrame, own: Floats, away: Floats, limit: int, risk: float
) -> Answers:
    """Covariances of the draws' log intervals with their parameters, `away` (S, P) from the mean."""
    reach = link_named(fit.fit.link).quantile(np.array([1.0 - risk]))[0]
    above = fit.threshold_of(limit) - reach
    of_fleet = (above - fit.coefficients @ _encoded(fit, fleet).mean(axis=0)) / fit.hours_slope
    of_units = (above - _encoded(fit, state) @ fit.coefficients.T) / fit.hours_slope
    step = fit.unit_sd / fit.hours_slope
    at = fit.unit_index(state["unit_key"].to_list())
    seen = at >= 0
    of_units[seen] -= step * fit.effects_of(at[seen]).T
    variances = of_units.var(axis=1, ddof=1) + np.where(seen, 0.0, np.mean(step**2))
    share = away / (away.shape[0] - 1)
    return Answers(
        with_fleet=share.T @ of_fleet,
        fleet_variance=float(of_fleet.var(ddof=1)),
        with_units=of_units @ share,
        own_with_units=-float(step.mean()) * own,
        unit_variances=variances,
    )


def _of_rows(
    fit: ChannelFit, state: pl.DataFrame, modes: Floats, variances: Floats, slopes: Floats
) -> tuple[Floats, Floats, Floats]:
    """Effects of the rows' units: mode 0, variance 1 and no slopes where a unit has no rated drain."""
    place = {key: index for index, key in enumerate(fit.unit_keys)}
    at = np.array([place.get(key, len(place)) for key in state["unit_key"]], dtype=np.int64)
    return (
        np.append(modes, 0.0)[at],
        np.append(variances, 1.0)[at],
        np.vstack((slopes, np.zeros((1, slopes.shape[1]))))[at],
    )


def _encoded(fit: ChannelFit, state: pl.DataFrame) -> Floats:
    """Design columns of the state's rows, (M, p)."""
    absent = [term.column for term in fit.drains.terms if term.column not in state.columns]
    state = state.with_columns(pl.lit(None, dtype=pl.String).alias(name) for name in absent)
    parts = [term.encode(state) for term in fit.drains.terms]
    return np.hstack(parts) if parts else np.empty((state.height, 0))


def _quadratic(vectors: Floats, matrices: Floats) -> Floats:
    return np.asarray(np.einsum("ck,ckl,cl->c", vectors, matrices, vectors))
