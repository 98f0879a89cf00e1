"""Long runs of a general-purpose sampler on the three data sets: `python -m tests.outside.long_runs`, some minutes.

The sampler is the affine-invariant ensemble of Goodman & Weare (2010, Comm. App. Math. Comp. Sci. 5, 65-80) with
differential-evolution moves, as in emcee (Foreman-Mackey, Hogg, Lang & Goodman 2013, PASP 125, 306-312; MIT licence).
It sees the same log density as the program and nothing else. Its means, sds, 5 % and 95 % points go to
summaries.json, which test_sampler_agreement.py holds the program's posterior against.
"""

from __future__ import annotations

import json

import emcee
import numpy as np
from rich.progress import track

from tests.outside.long_runs.data_sets import NAMES, SUMMARIES, data_set, fitted, tenth_hours

WALKERS = 60
STEPS_AT_ONCE = 2_000
ENOUGH_EFFECTIVE = 20_000
MOST_STEPS = 120_000
SEED = 20260101


def long_run(name: str) -> dict[str, object]:
    """Run until the slowest parameter has ENOUGH_EFFECTIVE draws; the first tenth is thrown away."""
    fit = fitted(name)
    mode = fit.maximum.point.working
    spread = np.sqrt(np.diag(np.linalg.inv(-fit.maximum.hessian)))
    start = mode + spread * np.random.default_rng(SEED).standard_normal((WALKERS, mode.size))
    moves = [(emcee.moves.DEMove(), 0.7), (emcee.moves.StretchMove(), 0.3)]
    sampler = emcee.EnsembleSampler(WALKERS, mode.size, fit.objective.log_density, vectorize=True, moves=moves)
    sampler.random_state = np.random.RandomState(SEED).get_state()
    state = sampler.run_mcmc(start, STEPS_AT_ONCE)
    for _ in track(range(MOST_STEPS // STEPS_AT_ONCE - 1), description=name):
        state = sampler.run_mcmc(state, STEPS_AT_ONCE)
        burn = sampler.iteration // 10
        times = sampler.get_autocorr_time(discard=burn, quiet=True)
        effective = WALKERS * (sampler.iteration - burn) / np.max(times)
        if effective >= ENOUGH_EFFECTIVE and sampler.iteration > 100 * np.max(times):
            break
    draws = sampler.get_chain(discard=burn, flat=True)
    derived = np.column_stack((draws, tenth_hours(fit, draws)))
    return {
        "sampler": f"emcee {emcee.__version__}",
        "steps": sampler.iteration,
        "walkers": WALKERS,
        "slowest_autocorrelation_time": round(float(np.max(times)), 1),
        "least_effective_draws": round(float(effective)),
        "log_density_at_mode": float(fit.objective.log_density(mode[None, :])[0]),
        "mode": mode.tolist(),
        "mean": derived.mean(axis=0).tolist(),
        "sd": derived.std(axis=0).tolist(),
        "low": np.quantile(derived, 0.05, axis=0).tolist(),
        "high": np.quantile(derived, 0.95, axis=0).tolist(),
    }


def main() -> None:
    """Run all three and store the summaries."""
    found = {name: long_run(name) | {"drains": len(data_set(name)["ratings"])} for name in NAMES}
    SUMMARIES.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
