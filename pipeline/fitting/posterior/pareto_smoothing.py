"""Pareto-smoothed importance sampling: weights and their diagnostic.

Vehtari, Simpson, Gelman, Yao & Gabry (2024), Pareto smoothed importance sampling, J. Mach. Learn. Res. 25(72);
the generalised Pareto fit is that of Zhang & Stephens (2009), Technometrics 51, 316-325.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from draincurve.schemas.array_types import Floats


@dataclass(frozen=True)
class SmoothedWeights:
    """Normalised weights (S,), the Pareto shape of their tail, and the effective sample size."""

    weights: Floats
    shape: float
    effective_sample_size: float


def pareto_smoothed(log_ratios: Floats) -> SmoothedWeights:
    """Weights from log importance ratios (S,), the tail smoothed."""
    logs = log_ratios - np.max(log_ratios)
    draws = logs.size
    tail = int(np.ceil(min(0.2 * draws, 3.0 * np.sqrt(draws))))
    order = np.argsort(logs, kind="stable")
    in_tail = order[-tail:]
    cutoff = logs[order[-tail - 1]]
    excess = np.exp(logs[in_tail]) - np.exp(cutoff)
    shape = np.inf
    if tail >= 5 and excess[0] < excess[-1]:
        shape, scale = fit_generalised_pareto(np.maximum(excess, 1e-300))
        probabilities = (np.arange(tail) + 0.5) / tail
        quantiles = scale * _pareto_quantile(probabilities, shape) + np.exp(cutoff)
        logs = logs.copy()
        logs[in_tail] = np.minimum(np.log(quantiles), 0.0)
    weights = np.exp(logs)
    weights /= weights.sum()
    return SmoothedWeights(weights, float(shape), float(1.0 / np.sum(weights**2)))


def fit_generalised_pareto(excess: Floats) -> tuple[float, float]:
    """(shape, scale) of ascending positive excesses, with the weak prior that stabilises small tails."""
    n = excess.size
    grid = 30 + int(np.sqrt(n))
    quarter = excess[int(n / 4 + 0.5) - 1]
    b = 1.0 - np.sqrt(grid / (np.arange(1, grid + 1) - 0.5))
    b = b / (3.0 * quarter) + 1.0 / excess[-1]
    k = np.mean(np.log1p(-b[:, None] * excess), axis=1)
    profile = n * (np.log(-(b / k)) - k - 1.0)
    weight = 1.0 / np.sum(np.exp(np.minimum(profile - profile[:, None], 700.0)), axis=1)
    b_mean = float(np.sum(b * weight) / np.sum(weight))
    shape = float(np.mean(np.log1p(-b_mean * excess)))
    scale = -shape / b_mean
    return (n * shape + 10 * 0.5) / (n + 10), scale


def _pareto_quantile(p: Floats, shape: float) -> Floats:
    if abs(shape) < 1e-8:
        return -np.log1p(-p)
    return np.asarray(np.expm1(-shape * np.log1p(-p)) / shape)
