"""Alarm limits out of the fleet's own readings, where no one else gives any; or the reason why there are none.

The published practice for limits from data in condition monitoring (ASTM D7720) names two techniques: statistical
process control, mean plus multiples of the standard deviation, where the readings are normal and steady, and the
cumulative distribution, that is percentiles, otherwise; both need enough readings. We have seen only its scope;
the share of 95 % and the confidence of 90 % are our choice, not the guide's. Percentiles come with distribution-free
intervals from order statistics (Hahn & Meeker 1991, Statistical Intervals, ch. 5), those of a normal sample from the
noncentral t (ch. 4; NIST/SEMATECH e-Handbook 7.2.6.3). Both suppose independent readings, so each part gives its
latest one only. Readings that are only known to be under a number have no mean: with any of them it is percentiles.

The share of healthy units that the warning level flags is the probability that one more reading of the same
population is at or past it: with b of n readings there, b / (n + 1) whatever the distribution, and from Student's t
for a normal sample (prediction of one future reading, Hahn & Meeker 1991, ch. 4 and 5; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import bdtr, nctdtrit, ndtri, stdtr

from draincurve.schemas.array_types import Floats

SHARE = 0.95
CONFIDENCE = 0.90
FEWEST_NORMAL = 30
NORMAL_LEVEL = 0.10
"""Shapiro-Wilk p-value under which readings are not taken as normal."""

NORMAL = "statistical process control after ASTM D7720: mean and standard deviation of normal readings"
ORDERED = "cumulative distribution technique after ASTM D7720: percentile by order statistics"


@dataclass(frozen=True, slots=True)
class FleetLimit:
    """A limit from the fleet's own readings: what is unusual in this fleet, never what is fit to ride.

    side : over or under;  value, low, high : the percentile with its 90 % interval;  look_from : the end of the
    interval from which an inspection is due sooner;  method : in words;  readings : units that gave one each
    beyond : of these, how many are at or past look_from;  flagged : share of healthy units expected there
    """

    side: str
    share: float
    value: float
    low: float
    high: float
    look_from: float
    method: str
    readings: int
    beyond: int
    flagged: float


@dataclass(frozen=True, slots=True)
class Percentile:
    """A percentile with its interval; low or high is None where the sample is too small to bound it."""

    value: float
    low: float | None
    high: float | None


def fleet_limit(values: Floats, worse: str, *, log_scale: bool, bounded: bool = False) -> FleetLimit | str:
    """The limit on the worse side, or a sentence on why there is none.

    values : array, shape (n,), one reading of each part.  log_scale : whether readings are normal on the log scale,
    if ever.  bounded : whether any of them is only known to be under or over its number
    """
    if worse == "either":
        return "No limit is made from the fleet's readings: either side can be the worse one."
    sample = np.sort(values if worse == "rising" else -values)
    needed = fewest_for_percentile(SHARE, CONFIDENCE)
    if np.ptp(sample) == 0.0 if sample.size else True:
        return "No limit can be made from the fleet's readings: they are all the same, or there are none."
    scaled = None if bounded else _normal_scale(sample, worse, log_scale=log_scale)
    if scaled is not None:
        point, method = normal_percentile(scaled, SHARE, confidence=CONFIDENCE), NORMAL
        bounds = [
            _on_own_scale(value, worse, log_scale=log_scale)
            for value in (point.value, point.low, point.high)
            if value is not None
        ]
    elif sample.size >= needed:
        point, method = ordered_percentile(sample, SHARE, confidence=CONFIDENCE), ORDERED
        bounds = [
            _on_own_scale(value, worse, log_scale=False)
            for value in (point.value, point.low, point.high)
            if value is not None
        ]
    else:
        fewer = "" if bounded else f", or {FEWEST_NORMAL} whose readings are close to a normal distribution"
        return (
            f"No limit can be made from the fleet's readings: {sample.size} parts were measured; {needed} are "
            f"needed{fewer}."
        )
    value, sooner, later = bounds
    beyond = int((values >= sooner if worse == "rising" else values <= sooner).sum())
    flagged = beyond / (sample.size + 1) if scaled is None else _flagged_if_normal(scaled, point.low)
    return FleetLimit(
        side="over" if worse == "rising" else "under",
        share=SHARE,
        value=value,
        low=min(sooner, later),
        high=max(sooner, later),
        look_from=sooner,
        method=method,
        readings=sample.size,
        beyond=beyond,
        flagged=flagged,
    )


def ordered_percentile(sample: Floats, share: float, *, confidence: float) -> Percentile:
    """Percentile at rank share * (n + 1), with the order statistics that bound it, half of the error on each side.

    sample : array, shape (n,), ascending.  With B ~ binomial(n, share), the k-th value is at or under the percentile
    with probability P(B >= k) and at or over it with P(B <= k - 1).
    """
    n, doubt = sample.size, (1.0 - confidence) / 2.0
    value = float(np.quantile(sample, share, method="weibull"))
    ranks = np.arange(1, n + 1)
    at_most = bdtr(ranks - 1, n, share)
    under, over = ranks[1.0 - at_most >= 1.0 - doubt], ranks[at_most >= 1.0 - doubt]
    return Percentile(
        value,
        float(sample[under[-1] - 1]) if under.size else None,
        float(sample[over[0] - 1]) if over.size else None,
    )


def normal_percentile(sample: Floats, share: float, *, confidence: float) -> Percentile:
    """Mean + z s with its exact interval by the noncentral t."""
    doubt = (1.0 - confidence) / 2.0
    mean, sd = float(sample.mean()), float(sample.std(ddof=1))
    low, high = (tolerance_factor(sample.size, share, confidence=level) for level in (doubt, 1.0 - doubt))
    return Percentile(mean + float(ndtri(share)) * sd, mean + low * sd, mean + high * sd)


def tolerance_factor(readings: int, share: float, *, confidence: float) -> float:
    """k such that mean + k s is over the share of a normal population with this confidence."""
    root = np.sqrt(readings)
    return float(nctdtrit(readings - 1, float(ndtri(share)) * root, confidence) / root)


def fewest_for_percentile(share: float, confidence: float) -> int:
    """Fewest readings whose largest is an upper bound of the percentile: 1 - share^n >= (1 + confidence) / 2."""
    return int(np.ceil(np.log((1.0 - confidence) / 2.0) / np.log(share)))


def _normal_scale(sample: Floats, worse: str, *, log_scale: bool) -> Floats | None:
    """Readings on the scale on which they are close to normal; None where they are not, or are too few."""
    if sample.size < FEWEST_NORMAL or (log_scale and (np.abs(sample) <= 0).any()):
        return None
    scaled = np.asarray(
        np.sort((1.0 if worse == "rising" else -1.0) * np.log(np.abs(sample))) if log_scale else sample
    )
    few = scaled if scaled.size <= 5000 else scaled[np.linspace(0, scaled.size - 1, 5000).astype(int)]
    from scipy.stats import shapiro  # half a second to import, which only a log with measurements should pay

    return scaled if float(shapiro(few).pvalue) >= NORMAL_LEVEL else None


def _flagged_if_normal(sample: Floats, look_from: float | None) -> float:
    """Probability that one more reading is at or past the warning level, on the scale of the sample."""
    assert look_from is not None
    n = sample.size
    distance = (look_from - float(sample.mean())) / (float(sample.std(ddof=1)) * np.sqrt(1.0 + 1.0 / n))
    return float(stdtr(n - 1, -distance))


def _on_own_scale(value: float, worse: str, *, log_scale: bool) -> float:
    signed = value if worse == "rising" else -value
    return float(np.exp(signed)) if log_scale else signed
