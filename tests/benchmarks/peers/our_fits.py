"""The project's own fits of the rows, and those of statsmodels, which knows no unit effect."""

from __future__ import annotations

import warnings
from importlib.metadata import version
from typing import Any

import numpy as np
from statsmodels.miscmodels.ordinal_model import OrderedModel

from draincurve.pipeline.fitting.posterior.posterior_draws import Posterior, sample_posterior
from draincurve.pipeline.fitting.rating_model import PointFit, fit_rating_model
from draincurve.pipeline.fitting.thread_limits import one_thread
from draincurve.pipeline.processing import ONE_THREAD_DRAINS, fit_processing
from draincurve.schemas.settings import Priors
from tests.benchmarks.peers.peer_fit import PeerFit, RatedRows, shortest

NODES = 9
DRAWS, SEED = 4000, 1


def ours(rows: RatedRows, nodes: int = NODES) -> PeerFit:
    """Maximum likelihood with unit effects, on as many threads as the program takes for a log of this size."""
    name = "Laplace" if nodes == 1 else f"{nodes} nodes"
    return _timed(f"**ours, {name}**" if nodes == NODES else f"ours, {name}", rows, nodes, True)


def ours_on_one_thread(rows: RatedRows) -> PeerFit:
    """The same on one thread, as the rivals run."""
    with one_thread():
        return _timed(f"ours, {NODES} nodes, one thread", rows, NODES, True)


def ours_without_units(rows: RatedRows) -> PeerFit:
    """Without unit effects."""
    return _timed("**ours, no unit effect**", rows, NODES, False)


def statsmodels_without_units(rows: RatedRows) -> PeerFit:
    """OrderedModel, which has no unit effect; with standard errors, as the others."""

    def fitted() -> tuple[Any, Any]:
        fit = OrderedModel(rows.ratings, rows.columns, distr="logit").fit(method="bfgs", disp=False, maxiter=500)
        return fit, fit.bse

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        seconds = shortest(fitted)
        fit, _ = fitted()
    p = rows.columns.shape[1]
    thresholds = fit.model.transform_threshold_params(fit.params)[1:-1]
    note = "" if fit.mle_retvals["converged"] else "says that it did not converge"
    what = f"statsmodels {version('statsmodels')} OrderedModel"
    return PeerFit(what, seconds, float(fit.llf), thresholds, np.asarray(fit.params[:p]), 0.0, note)


def our_posterior(rows: RatedRows) -> PeerFit:
    """Fit and draws under the shop's priors; the estimates are posterior means."""

    def drawn() -> tuple[PointFit, Posterior]:
        fit = fit_rating_model(rows.ratings, rows.columns[:, 0], rows.columns[:, 1:], rows.unit, prior=Priors())
        processing = fit_processing(units=len(fit.unit_labels), drains=rows.ratings.size)
        rng = np.random.default_rng(SEED)
        return fit, sample_posterior(fit, DRAWS, rng=rng, normal=processing.normal_posterior)

    fit, posterior = drawn()
    took = shortest(drawn)
    thresholds, slopes, spreads = (draws.mean(axis=0) for draws in fit.natural_draws(posterior.draws))
    effective = DRAWS if posterior.effective_sample_size is None else posterior.effective_sample_size
    note = f"means under the shop's priors; {effective:,.0f} effective draws, {effective / took:,.0f} a second"
    return PeerFit("**ours, posterior**", took, None, thresholds, slopes, float(spreads), note)


def _timed(what: str, rows: RatedRows, nodes: int, has_units: bool) -> PeerFit:
    """Fit once to have it compiled, then to be timed."""
    unit = rows.unit if has_units else None

    def fitted() -> PointFit:
        return fit_rating_model(rows.ratings, rows.columns[:, 0], rows.columns[:, 1:], unit, n_nodes=nodes)

    with one_thread(when=rows.ratings.size < ONE_THREAD_DRAINS):
        fit = fitted()
        seconds = shortest(fitted)
    slopes = np.append(np.array(fit.hours_slope, dtype=float), fit.coefficients)
    note = "" if fit.converged else "says that it did not converge"
    return PeerFit(what, seconds, fit.log_likelihood, fit.thresholds, slopes, fit.unit_sd or 0.0, note)
