"""The whole posterior beside a general-purpose sampler, in one run: `python -m tests.benchmarks.sampler_ratio`.

Both get the same compiled log density, and the sampler starts spread about the mode, which the program has to find
first: what is compared is fit and importance resampling against the ensemble sampler (Goodman & Weare 2010, as in
emcee) until its slowest parameter has as many effective draws. Its autocorrelation time is taken for known only once
the chain is 50 times as long, as its authors advise; before that it is lengthened.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

import emcee
import numpy as np

from draincurve.pipeline.fitting.posterior.posterior_draws import Posterior, sample_posterior
from draincurve.pipeline.fitting.rating_model import PointFit, fit_rating_model
from draincurve.pipeline.fitting.unit_effects.grid_draws import draw_unit_effects
from draincurve.schemas.settings import Priors
from tests.benchmarks.rating_fits import Row, best_seconds

SIZES = ((6, 36, 0.2), (100, 1000, 2.0))
"""Units, drains, goal [s]."""

STEPS_AT_ONCE = 250
MOST_STEPS = 20_000


@dataclass(frozen=True)
class SamplerTime:
    """Seconds of the sampler, its effective draws, and whether its chain was long enough to know them."""

    seconds: float
    effective: float
    known: bool


def invented(units: int, drains: int) -> PointFit:
    """A fit with one contrast column, by size."""
    rng = np.random.default_rng(20260101)
    unit = np.arange(drains) % units
    log_hours = np.log(12.0) + 0.5 * rng.standard_normal(drains)
    spring = np.where(rng.random(drains) < 0.5, -1, 1) / np.sqrt(2.0)
    eta = 2.2 * (log_hours - np.log(12.0)) + 0.3 * spring + 0.6 * rng.standard_normal(units)[unit]
    ratings = 1 + np.searchsorted([-1.5, 0.3, 2.1, 3.8], eta + rng.logistic(size=drains))
    return fit_rating_model(ratings, log_hours, spring[:, None], unit, prior=Priors(), levels=5)


def whole_posterior(units: int, drains: int) -> tuple[PointFit, Posterior]:
    """Fit, draws of the parameters and of every unit's effect: what the program does for a channel."""
    fit = invented(units, drains)
    rng = np.random.default_rng(1)
    posterior = sample_posterior(fit, 1000, rng=rng)
    draw_unit_effects(fit.objective.likelihood, fit.objective.layout.natural(posterior.draws), rng=rng)
    return fit, posterior


def sampler_time(fit: PointFit, wanted: float) -> SamplerTime:
    """The ensemble sampler until it has `wanted` effective draws of its slowest parameter."""
    mode = fit.maximum.point.working
    walkers = 4 * mode.size
    sd = np.sqrt(np.diag(np.linalg.inv(-fit.maximum.hessian)))
    start = mode + sd * np.random.default_rng(1).standard_normal((walkers, mode.size))
    moves = [(emcee.moves.DEMove(), 0.7), (emcee.moves.StretchMove(), 0.3)]
    sampler = emcee.EnsembleSampler(walkers, mode.size, fit.objective.log_density, vectorize=True, moves=moves)
    begin = time.perf_counter()
    state = sampler.run_mcmc(start, STEPS_AT_ONCE)
    while True:
        burn = sampler.iteration // 5
        slowest = float(np.max(sampler.get_autocorr_time(discard=burn, quiet=True, tol=0)))
        effective = walkers * (sampler.iteration - burn) / slowest
        known = sampler.iteration - burn >= 50 * slowest
        if (effective >= wanted and known) or sampler.iteration >= MOST_STEPS:
            return SamplerTime(time.perf_counter() - begin, effective, known)
        state = sampler.run_mcmc(state, STEPS_AT_ONCE)


def posterior_beside_sampler() -> list[Row]:
    """A line for each size and part."""
    rows = []
    for units, drains, goal in SIZES:
        what = f"{units} units, {drains:,} drains"
        fit, posterior = whole_posterior(units, drains)
        seconds = best_seconds(lambda u=units, d=drains: whole_posterior(u, d), 3)
        wanted = float(posterior.effective_sample_size or 0.0)
        other = sampler_time(fit, wanted)
        rows += [
            Row(f"whole posterior, {what} ({wanted:.0f} effective draws)", f"{seconds:.2f} s", f"{goal:g} s"),
            Row(
                f"emcee {emcee.__version__} beside it ({other.effective:.0f} effective draws"
                f"{'' if other.known else ', chain still too short to know'})",
                f"{other.seconds:.1f} s, {other.seconds / seconds:.0f} times as long",
                "the ratio is what counts",
            ),
        ]
    return rows


if __name__ == "__main__":
    for row in posterior_beside_sampler():
        print(f"{row.what}: {row.value} (goal: {row.goal})")
