"""Link functions: the distribution F in P(rating <= k) = F(threshold - eta), one small object each.

The compiled kernels identify a link by its `code`; everything else uses the methods, elementwise over arrays.

References: McCullagh (1980), Regression models for ordinal data, J. R. Stat. Soc. B 42, 109-142 (logit, probit
and extreme-value links for ordered ratings); Kalbfleisch & Prentice (2002), ch. 2 (the accelerated-failure-time
models with log-logistic, log-normal and Weibull times that have the same links).
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from draincurve.schemas.array_types import Floats
from draincurve.schemas.errors import FitError

LOGIT, PROBIT, CLOGLOG = 0, 1, 2


class Link(ABC):
    """A distribution function with its inverse and its first two derivatives, elementwise."""

    name: ClassVar[str]
    hours_law: ClassVar[str]
    code: ClassVar[int]
    standard_deviation: ClassVar[float]

    @abstractmethod
    def cdf(self, x: ArrayLike) -> Floats:
        """F(x), in 0..1."""

    @abstractmethod
    def survival(self, x: ArrayLike) -> Floats:
        """1 - F(x), accurate in the upper tail."""

    @abstractmethod
    def quantile(self, p: ArrayLike) -> Floats:
        """x with F(x) = p, for p inside 0..1."""

    @abstractmethod
    def pdf(self, x: ArrayLike) -> Floats:
        """First derivative of F."""

    @abstractmethod
    def pdf_slope(self, x: ArrayLike) -> Floats:
        """Second derivative of F."""

    def survival_and_pdf(self, x: ArrayLike) -> tuple[Floats, Floats]:
        """1 - F(x) and the first derivative of F, for both together."""
        return self.survival(x), self.pdf(x)

    @property
    def scale(self) -> float:
        """Standard deviation relative to the logit link's, by which priors are rescaled."""
        return self.standard_deviation / Logit.standard_deviation


class Logit(Link):
    """Logistic F: hours to a rating are log-logistic."""

    name, hours_law, code = "logit", "log-logistic", LOGIT
    standard_deviation = float(np.pi / np.sqrt(3.0))

    def cdf(self, x: ArrayLike) -> Floats:
        return np.asarray(special.expit(x))

    def survival(self, x: ArrayLike) -> Floats:
        return np.asarray(special.expit(np.negative(x)))

    def quantile(self, p: ArrayLike) -> Floats:
        return np.asarray(special.logit(p))

    def pdf(self, x: ArrayLike) -> Floats:
        return self.cdf(x) * self.survival(x)

    def pdf_slope(self, x: ArrayLike) -> Floats:
        return self.pdf(x) * (self.survival(x) - self.cdf(x))

    def survival_and_pdf(self, x: ArrayLike) -> tuple[Floats, Floats]:
        # One exponential serves both; a large fleet's risks take half the time so.
        smaller = np.exp(-np.abs(x))
        total = 1.0 + smaller
        tail = smaller / total
        return np.where(np.greater(x, 0.0), tail, 1.0 / total), tail / total


class Probit(Link):
    """Normal F: hours to a rating are log-normal."""

    name, hours_law, code = "probit", "log-normal", PROBIT
    standard_deviation = 1.0

    def cdf(self, x: ArrayLike) -> Floats:
        return np.asarray(special.ndtr(x))

    def survival(self, x: ArrayLike) -> Floats:
        return np.asarray(special.ndtr(np.negative(x)))

    def quantile(self, p: ArrayLike) -> Floats:
        return np.asarray(special.ndtri(p))

    def pdf(self, x: ArrayLike) -> Floats:
        return np.asarray(np.exp(-0.5 * np.square(x)) / np.sqrt(2.0 * np.pi))

    def pdf_slope(self, x: ArrayLike) -> Floats:
        return -np.asarray(x) * self.pdf(x)


class Cloglog(Link):
    """F(x) = exp(-exp(-x)), so P(rating >= k) = 1 - exp(-exp(eta - threshold)): hours to a rating are Weibull."""

    name, hours_law, code = "cloglog", "Weibull", CLOGLOG
    standard_deviation = float(np.pi / np.sqrt(6.0))

    def cdf(self, x: ArrayLike) -> Floats:
        return np.asarray(np.exp(-_exp_minus(x)))

    def survival(self, x: ArrayLike) -> Floats:
        return np.asarray(-np.expm1(-_exp_minus(x)))

    def quantile(self, p: ArrayLike) -> Floats:
        return np.asarray(-np.log(-np.log(p)))

    def pdf(self, x: ArrayLike) -> Floats:
        t = _exp_minus(x)
        return np.asarray(t * np.exp(-t))

    def pdf_slope(self, x: ArrayLike) -> Floats:
        return self.pdf(x) * (_exp_minus(x) - 1.0)


LINKS: dict[str, Link] = {link.name: link for link in (Logit(), Probit(), Cloglog())}


def link_named(name: str) -> Link:
    """The link of that name; raises FitError naming the possible ones."""
    if name not in LINKS:
        raise FitError(f"link {name!r}: expected one of {', '.join(LINKS)}")
    return LINKS[name]


def _exp_minus(x: ArrayLike) -> Floats:
    """exp(-x), capped below overflow, where F is 0 to every digit."""
    return np.exp(np.minimum(np.negative(x), 700.0))
