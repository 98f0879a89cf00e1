"""Long runs of a general-purpose sampler on two channels at once: `python -m tests.outside.long_runs.oil_runs`.

The density of everything together, written anew: both channels' parameters, the correlation of a unit's two effects,
and the odds ratio of a drain's two ratings (Plackett 1965, J. Am. Stat. Assoc. 60, 516-522; its distribution function
as in Dale 1986, Biometrics 42, 909-917). Unit effects are integrated out on a product of Gauss-Hermite rules. The
sampler is emcee's (Foreman-Mackey, Hogg, Lang & Goodman 2013, PASP 125, 306-312). The program fits the channels first
and joins them after; test_oil_agreement.py holds it against what is found here. About ten minutes.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import NamedTuple

import emcee
import numpy as np
from numba import njit, prange
from rich.progress import track
from scipy import special, stats

from draincurve.pipeline.fitting import ChannelFit
from tests.pipeline.fitting.joint.joined_channels import Drains, drains_of, fits_of

SUMMARIES = Path(__file__).with_name("oil_summaries.json")
LIMIT, AT_HOURS = 4, 12.0
WALKERS, STEPS, SEED = 40, 6_000, 20260101
NODES = 15
OWN = 6
"""Parameters of a channel: first threshold, three log gaps, log slope, log sd between units."""


class Invented(NamedTuple):
    """A data set: units, drains each, correlation, odds ratio, seed; second_rated : share of drains so rated."""

    units: int
    drains: int
    correlation: float
    odds_ratio: float
    seed: int
    second_every: int = 1


DATA_SETS = {
    "channels agree": Invented(6, 8, 0.9, 8.0, 3),
    "channels apart": Invented(6, 8, 0.0, 1.0, 4),
    "debris rated at every other drain": Invented(8, 8, 0.6, 4.0, 5, 2),
}


def data_set(name: str) -> tuple[Drains, np.ndarray]:
    """The drains, and which of them are rated for debris."""
    one = DATA_SETS[name]
    drains = drains_of(one.units, one.drains, one.correlation, one.odds_ratio, seed=one.seed)
    return drains, np.arange(drains.unit.size) % one.second_every == 0


def channel_fits(name: str) -> dict[str, ChannelFit]:
    """The program's fits of the two channels, apart."""
    drains, rated = data_set(name)
    return fits_of(drains, debris=np.flatnonzero(rated))


def log_prior(points: np.ndarray) -> np.ndarray:
    """Of walkers (W, 14): the default priors, with the Jacobians of logs and of the correlation's logit."""
    total = np.zeros(len(points))
    for own in (points[:, :OWN], points[:, OWN : 2 * OWN]):
        total += stats.norm(0, 5).logpdf(own[:, 0]) + stats.norm(np.log(1.5), 0.7).logpdf(own[:, 1:4]).sum(axis=1)
        total += stats.norm(np.log(2), 0.5).logpdf(own[:, 4])
        total += stats.halfnorm(scale=1).logpdf(np.exp(own[:, 5])) + own[:, 5]
    share = special.expit(points[:, -2])
    return (
        total
        + stats.beta(2, 1).logpdf(share)
        + np.log(share * (1 - share))
        + stats.norm(0.5, 1).logpdf(points[:, -1])
    )


@njit(cache=True)
def _plackett(u: float, v: float, odds: float) -> float:
    """Distribution function with these margins."""
    if abs(odds - 1.0) < 1e-9:
        return u * v
    s = 1.0 + (odds - 1.0) * (u + v)
    return (s - np.sqrt(s * s - 4.0 * odds * (odds - 1.0) * u * v)) / (2.0 * (odds - 1.0))


@njit(cache=True, parallel=True)
def _log_likelihoods(points, ratings, logs, starts, nodes, log_weights, centres, limit, at, unit_risks):  # type: ignore[no-untyped-def]
    """Log likelihood of each walker; unit_risks (W, U): the oil's risk of each unit at `at` log hours."""
    out = np.zeros(len(points))
    for w in prange(len(points)):
        p = points[w]
        cuts = np.empty((2, 6))
        for c in range(2):
            cuts[c, 0], cuts[c, 5] = -np.inf, np.inf
            cuts[c, 1] = p[6 * c]
            for k in range(3):
                cuts[c, k + 2] = cuts[c, k + 1] + np.exp(p[6 * c + 1 + k])
        slopes, sds = (np.exp(p[4]), np.exp(p[10])), (np.exp(p[5]), np.exp(p[11]))
        rho, odds = 2.0 / (1.0 + np.exp(-p[12])) - 1.0, np.exp(p[13])
        for u in range(starts.size - 1):
            top, count = -np.inf, nodes.size**2
            logs_of_node, risk_of_node = np.empty(count), np.empty(count)
            for node in range(count):
                i, j = node // nodes.size, node % nodes.size
                z = (nodes[i], rho * nodes[i] + np.sqrt(1.0 - rho * rho) * nodes[j])
                total = log_weights[i] + log_weights[j]
                for n in range(starts[u], starts[u + 1]):
                    ends = np.empty((2, 2))
                    for c in range(2):
                        eta = slopes[c] * (logs[n] - centres[c]) + sds[c] * z[c]
                        r = ratings[c, n]
                        ends[c, 0] = 0.0 if r <= 1 else 1.0 / (1.0 + np.exp(eta - cuts[c, r - 1]))
                        ends[c, 1] = 1.0 if r == 5 or r == 0 else 1.0 / (1.0 + np.exp(eta - cuts[c, r]))
                    chance = _plackett(ends[0, 1], ends[1, 1], odds) - _plackett(ends[0, 0], ends[1, 1], odds)
                    chance += _plackett(ends[0, 0], ends[1, 0], odds) - _plackett(ends[0, 1], ends[1, 0], odds)
                    total += np.log(max(chance, 1e-300))
                fit = np.empty(2)
                for c in range(2):
                    fit[c] = 1.0 / (1.0 + np.exp(slopes[c] * (at - centres[c]) + sds[c] * z[c] - cuts[c, limit - 1]))
                logs_of_node[node], risk_of_node[node] = total, 1.0 - _plackett(fit[0], fit[1], odds)
                top = max(top, total)
            mass = np.exp(logs_of_node - top)
            out[w] += top + np.log(mass.sum())
            unit_risks[w, u] = (mass * risk_of_node).sum() / mass.sum()
    return out


def log_likelihoods(name: str, points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Log likelihoods (W,) and the oil's risk of each unit at AT_HOURS, (W, U); a rating of 0 is none."""
    drains, rated = data_set(name)
    ratings = np.array([drains.ratings[0], np.where(rated, drains.ratings[1], 0)])
    starts = np.searchsorted(drains.unit, np.arange(drains.effects.shape[1] + 1))
    nodes, weights = special.roots_hermitenorm(NODES)
    centres = np.array([drains.log_hours.mean(), drains.log_hours[rated].mean()])
    risks = np.empty((len(points), starts.size - 1))
    log_weights = np.log(weights) - 0.5 * np.log(2 * np.pi)
    found = _log_likelihoods(
        points, ratings, drains.log_hours, starts, nodes, log_weights, centres, LIMIT, np.log(AT_HOURS), risks
    )
    return found, risks


def long_run(name: str) -> dict[str, object]:
    """Run from the channels' own modes; the first fifth is thrown away."""
    modes = [fit.fit.maximum.point.working for fit in channel_fits(name).values()]
    mode = np.concatenate((*modes, [1.0, 0.5]))
    rng = np.random.default_rng(SEED)
    start = mode + 0.3 * rng.standard_normal((WALKERS, mode.size))
    moves = [(emcee.moves.DEMove(), 0.7), (emcee.moves.StretchMove(), 0.3)]
    sampler = emcee.EnsembleSampler(
        WALKERS,
        mode.size,
        lambda points: log_prior(points) + log_likelihoods(name, points)[0],
        vectorize=True,
        moves=moves,
    )
    sampler.random_state = np.random.RandomState(SEED).get_state()
    for _ in track(sampler.sample(start, iterations=STEPS), total=STEPS, description=name):
        pass
    burn = STEPS // 5
    times = sampler.get_autocorr_time(discard=burn, quiet=True)
    draws = sampler.get_chain(discard=burn, flat=True)
    thinned = sampler.get_chain(discard=burn, flat=True, thin=max(1, int(np.max(times) / 5)))
    risks = log_likelihoods(name, np.ascontiguousarray(thinned))[1]
    correlation = 2 * special.expit(draws[:, -2]) - 1
    return {
        "sampler": f"emcee {emcee.__version__}",
        "steps": STEPS,
        "walkers": WALKERS,
        "slowest_autocorrelation_time": round(float(np.max(times)), 1),
        "least_effective_draws": round(WALKERS * (STEPS - burn) / float(np.max(times))),
        "point": mode.tolist(),
        "log_density_at_point": float((log_prior(mode[None]) + log_likelihoods(name, mode[None])[0])[0]),
        "correlation": [float(correlation.mean()), float(correlation.std())],
        "log_odds_ratio": [float(draws[:, -1].mean()), float(draws[:, -1].std())],
        "unit_risks": risks.mean(axis=0).round(5).tolist(),
        "unit_risk_sds": risks.std(axis=0).round(5).tolist(),
    }


def main() -> None:
    """Run all three and store the summaries."""
    found = {name: long_run(name) for name in DATA_SETS}
    SUMMARIES.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
