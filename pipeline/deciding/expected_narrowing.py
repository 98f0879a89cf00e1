"""How much one more drain would narrow a channel's answers, before its rating is known.

Expected Fisher information of an ordinal rating about its cut points, taken through to the covariance of parameters
and the unit's own effect (Chaloner & Verdinelli 1995, Bayesian experimental design: a review, Stat. Sci. 10,
273-304, section 4: normal approximation). The covariance is that of the posterior's draws; everything is linear about
their mean. One unit's error stands alone, so a further drain of another unit meets only the parameters.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.fitting.channel_fit import ChannelFit
from pipeline.fitting.links import link_named
from pipeline.fitting.unit_sensitivity import unit_sensitivity

Floats = NDArray[np.float64]
Rows = NDArray[np.int64]

_LEAST_CHANCE = 1e-12


@dataclass(frozen=True)
class Narrowing:
    """One channel about the mean of its draws: P natural parameters, M units (rows of the state), C candidates.

    covariance : (P, P); own : (M,), variance of each unit's effect about its mode, in sd of the unit effect
    fleet : (P,), slope of the fleet's mean log interval;  units : (M, P + 1), slopes of each unit's own log interval,
    its own error last;  reach : (C, K - 1, P + 1), slopes of each candidate's cuts, likewise
    information : (C, K - 1, K - 1), of the rating about its cuts;  row : (C,), the candidate's unit
    """

    covariance: Floats
    own: Floats
    fleet: Floats
    units: Floats
    reach: Floats
    information: Floats
    row: Rows

    def fleet_variance(self) -> float:
        """Variance of the fleet's mean log interval."""
        return float(self.fleet @ self.covariance @ self.fleet)

    def unit_variances(self) -> Floats:
        """Variance of each unit's own log interval, (M,)."""
        shared = np.einsum("mp,pq,mq->m", self.units[:, :-1], self.covariance, self.units[:, :-1])
        return np.asarray(shared + self.units[:, -1] ** 2 * self.own)

    def expected_drops(self) -> tuple[Floats, Floats]:
        """Drop in the variance of the fleet's log interval and of the unit's own, by candidate, (C,) each."""
        through = self.reach[:, :, :-1] @ self.covariance
        own = self.own[self.row][:, None]
        to_fleet = through @ self.fleet
        to_unit = np.einsum("ckp,cp->ck", through, self.units[self.row, :-1])
        to_unit += self.reach[:, :, -1] * (own * self.units[self.row, -1:])
        gain = self._gain(np.arange(self.row.size), through)
        return _quadratic(to_fleet, gain), _quadratic(to_unit, gain)

    def after(self, candidate: int) -> Narrowing:
        """The same once a candidate has been drained and rated."""
        at = np.array([candidate])
        through = self.reach[at, :, :-1] @ self.covariance
        gain = self._gain(at, through)[0]
        return replace(self, covariance=self.covariance - through[0].T @ gain @ through[0])

    def _gain(self, at: Rows, through: Floats) -> Floats:
        """(information^-1 + covariance of the cuts)^-1 for some candidates, (c, K - 1, K - 1)."""
        reach, information = self.reach[at], self.information[at]
        spread = np.einsum("ckp,clp->ckl", through, reach[:, :, :-1])
        spread += np.einsum("ck,cl->ckl", reach[:, :, -1], reach[:, :, -1]) * self.own[self.row[at]][:, None, None]
        gain = np.linalg.solve(np.eye(spread.shape[1]) + information @ spread, information)
        return np.asarray((gain + gain.transpose(0, 2, 1)) / 2)


def narrowing(
    fit: ChannelFit, state: pl.DataFrame, row: Rows, hours: Floats, limit: int, accepted_risk: float
) -> Narrowing:
    """A channel's narrowing for candidates: unit `row` (C,) of the state drained at `hours` (C,) [h].

    state : unit_key and the columns of the fit's terms; a level that is missing or was never seen counts as average.
    A unit without rated drains has the fleet's spread.
    """
    model, objective = fit.fit, fit.fit.objective
    k = objective.plan.levels - 1
    natural = objective.plan.natural(fit.posterior.draws)
    at = natural.mean(axis=0)
    columns = np.column_stack((np.zeros(state.height), _encoded(fit, state))) - model.centres
    columns[:, 0] = 0.0
    effects = unit_sensitivity(objective.likelihood, at)
    modes, own, moves = _of_rows(fit, state, effects.modes, effects.variances, effects.slopes)

    # A unit's part in its cuts, as slopes: the spread's own, and what its mode does when the parameters move.
    unit_part = at[-1] * moves
    unit_part[:, -1] += modes
    slope = at[k]
    typical = np.zeros((state.height, at.size))
    typical[:, limit - 2] = 1.0
    typical[:, k + 1 : -1] = -columns[:, 1:]
    reach_of_risk = link_named(model.link).quantile(np.array([1.0 - accepted_risk]))[0]
    distance = at[limit - 2] - columns @ at[k:-1] - reach_of_risk
    fleet = typical.copy()
    fleet[:, k] -= distance / slope
    units = np.column_stack((typical - unit_part, np.full(state.height, -at[-1])))
    units[:, k] -= (distance - at[-1] * modes) / slope

    inner = columns[row].copy()
    inner[:, 0] = np.log(hours) - model.centres[0]
    reach = np.zeros((row.size, k, at.size + 1))
    reach[:, np.arange(k), np.arange(k)] = 1.0
    reach[:, :, k : at.size - 1] -= inner[:, None, :]
    reach[:, :, :-1] -= unit_part[row][:, None, :]
    reach[:, :, -1] = -at[-1]
    cuts = at[:k] - (inner @ at[k:-1] + at[-1] * modes[row])[:, None]
    return Narrowing(
        covariance=np.cov(natural.T),
        own=own,
        fleet=fleet.mean(axis=0) / slope,
        units=units / slope,
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
    """Which levels a cut moves chance between: out of the one above, into the one below; (K - 1, K)."""
    return np.eye(cuts, cuts + 1) - np.eye(cuts, cuts + 1, 1)


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
