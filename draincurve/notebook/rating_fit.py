"""The rating model for notebooks: estimates labelled by name, a summary, and predictions with their range."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from draincurve.notebook.design_columns import DesignColumns, NewRows, design_columns
from draincurve.pipeline.fitting import TYPICAL_UNIT, PointFit, rating_probabilities
from draincurve.pipeline.fitting import fit_rating_model as fit_point
from draincurve.schemas.array_types import Floats, Integers
from draincurve.schemas.checked_settings import filled
from draincurve.schemas.errors import FitError
from draincurve.schemas.settings import Priors

PREDICTION_DRAWS = 2000


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class RatingFit:
    """A fitted rating model, made by `fit_rating_model`.

    P(rating <= k) = F(thresholds[k - 1] - eta), with eta = hours_slope * log hours + design @ coefficients + the
    unit's effect: a larger coefficient means a dirtier rating.

    thresholds : array (K - 1,), ascending
    hours_slope : number, None without log hours
    coefficients : array (p,); a pandas Series by column name where the design was a frame
    unit_sd : number, standard deviation of the units' effects; None without units
    unit_effects : Series by unit, the conditional mode of each unit's effect; positive is dirtier
    log_likelihood : number, marginal over the units' effects, without the prior
    standard_errors : array, in the order thresholds, hours_slope, coefficients, unit_sd (those that the model has),
    from the observed information, or with a prior from the curvature of the log posterior at its mode; a Series where
    the design was a frame
    link, n_nodes, converged, iterations : how it was fitted
    """

    thresholds: Floats
    hours_slope: float | None
    coefficients: Floats | pd.Series[float]
    unit_sd: float | None
    unit_effects: pd.Series[float]
    log_likelihood: float
    standard_errors: Floats | pd.Series[float]
    link: str
    n_nodes: int
    converged: bool
    iterations: int
    _point: PointFit
    _columns: DesignColumns

    @property
    def method(self) -> str:
        """How the estimates were got."""
        return "maximum likelihood" if self._point.objective.prior is None else "posterior mode"

    @property
    def range_method(self) -> str:
        """Where the ranges of `predict` come from."""
        if self._point.objective.prior is None:
            return f"{PREDICTION_DRAWS} normal draws around the maximum-likelihood estimate"
        return f"{PREDICTION_DRAWS} posterior draws, importance resampling around the mode"

    def summary(self, *, level: float = 0.90) -> pd.DataFrame:
        """Each parameter by name: estimate, standard error, and the normal (Wald) range that holds `level`.

        "2|3" is the threshold between ratings 2 and 3.

        >>> import draincurve
        >>> fit = draincurve.fit_rating_model([1, 2, 1, 3, 2, 3, 3], [1.1, 1.3, 1.8, 2.0, 2.3, 2.4, 3.0])
        >>> fit.summary().index.to_list()
        ['1|2', '2|3', 'hours_slope']
        """
        half = float(ndtri(0.5 + _checked_level(level) / 2)) * self._point.standard_errors
        estimates = _estimates(self._point)
        low = estimates - half
        if self.unit_sd is not None:
            low[-1] = max(0.0, low[-1])
        columns = {
            "estimate": estimates,
            "standard_error": self._point.standard_errors,
            "low": low,
            "high": estimates + half,
        }
        return pd.DataFrame(columns, index=pd.Index(_names(self._point, self._columns), name="parameter"))

    def predict(
        self,
        hours: ArrayLike | None,
        *,
        design: NewRows | None = None,
        units: object = None,
        level: float = 0.90,
        seed: int = 20260101,
    ) -> pd.DataFrame:
        """Probability of each rating after some hours, with a range that holds `level`; one row an hour and rating.

        hours : number or array [h], not its log; None for a model without log hours
        design : the columns of the model, one row for all hours or one each: a frame, an array, or a dict by name
        units : label, or one label for each of the hours; None for a typical unit, whose own effect is zero
        seed : start of the random numbers

        Columns of the result: hours, unit (where asked for), rating; probability with low and high, of exactly this
        rating; at_least with at_least_low and at_least_high, of this rating or a dirtier one. With a prior the
        estimate is the posterior mean and the range is the posterior's; else the estimate is by maximum likelihood
        and the range by normal draws around it (`range_method`). Both cover what is not known of the parameters and
        of the unit's effect. Raises FitError for columns or units that the model does not have.

        >>> import draincurve
        >>> fit = draincurve.fit_rating_model([1, 2, 1, 3, 2, 3, 3], [1.1, 1.3, 1.8, 2.0, 2.3, 2.4, 3.0])
        >>> dirty = fit.predict([5, 20]).query("rating == 3")
        >>> dirty[["hours", "at_least"]].round(2).to_numpy().tolist()
        [[5.0, 0.16], [20.0, 0.93]]
        """
        log_hours = self._log_hours(hours)
        labels = np.atleast_1d(np.asarray(units, dtype=object))
        rows = max(log_hours.shape[0], labels.size)
        for name, count in (("hours", log_hours.shape[0]), ("units", labels.size)):
            if count not in (1, rows):
                raise FitError(f"{name}: expected one value or {rows}, found {count}")
        columns = np.hstack(
            (np.broadcast_to(log_hours, (rows, log_hours.shape[1])), self._columns.of_rows(design, rows))
        )
        probabilities = rating_probabilities(
            self._point,
            columns,
            units=np.broadcast_to(self._unit_indices(labels), rows),
            level=_checked_level(level),
            draws=PREDICTION_DRAWS,
            rng=np.random.default_rng(seed),
        )
        levels = self.thresholds.size + 1
        keys: dict[str, Any] = {}
        if hours is not None:
            keys["hours"] = np.repeat(np.broadcast_to(np.asarray(hours, dtype=float), rows), levels)
        if units is not None:
            keys["unit"] = np.repeat(np.broadcast_to(labels, rows), levels)
        keys["rating"] = np.tile(np.arange(1, levels + 1), rows)
        names = ("probability", "low", "high", "at_least", "at_least_low", "at_least_high")
        values = (values.ravel() for values in (*probabilities.exactly, *probabilities.at_least))
        return pd.DataFrame(keys | dict(zip(names, values, strict=True)))

    def _log_hours(self, hours: ArrayLike | None) -> Floats:
        """Log hours as a column, (n, 1), or (1, 0) for a model without."""
        if self.hours_slope is None:
            if hours is not None:
                raise FitError("hours: the model was fitted without log hours; give None")
            return np.empty((1, 0))
        given = np.atleast_1d(np.asarray(hours, dtype=float))
        if given.ndim != 1 or not np.all(np.isfinite(given) & (given > 0)):
            raise FitError("hours: expected a number, or a list of numbers, above 0 [h]")
        return np.asarray(np.log(given)[:, None])

    def _unit_indices(self, labels: NDArray[np.object_]) -> Integers:
        """Index of each unit among the fit's; raises FitError for one that the fit does not have."""
        index = {label: position for position, label in enumerate(self._point.unit_labels)}
        index[None] = TYPICAL_UNIT
        for label in labels:
            if label not in index:
                known = [str(known_label) for known_label in self._point.unit_labels]
                near = difflib.get_close_matches(str(label), known, n=3)
                hint = f"did you mean {' or '.join(near)}?" if near else "None means a typical unit"
                raise FitError(f"unit {label}: is not in the fit; {hint}")
        return np.array([index[label] for label in labels], dtype=np.int64)

    def __repr__(self) -> str:
        units = "" if self.unit_sd is None else f" of {self.unit_effects.size} units"
        parts = [f"{self._point.order.size} ratings{units}", f"{self.link} link", self.method]
        if self.hours_slope is not None:
            parts.append(f"hours slope {self.hours_slope:.3g}")
        if self.unit_sd is not None:
            parts.append(f"unit sd {self.unit_sd:.3g}")
        parts.append(f"log likelihood {self.log_likelihood:.6g}")
        return f"<RatingFit: {', '.join(parts)}{'' if self.converged else ', NOT CONVERGED'}>"

    def _repr_html_(self) -> str:
        from html import escape

        return f"<p>{escape(repr(self)[1:-1])}</p>{self.summary().to_html(float_format='{:.3g}'.format)}"


def fit_rating_model(
    ratings: ArrayLike,
    log_hours: ArrayLike | None,
    design: ArrayLike | None = None,
    units: ArrayLike | None = None,
    *,
    link: str = "logit",
    n_nodes: int = 9,
    prior: Priors | Mapping[str, float] | None = None,
    ratings_high: ArrayLike | None = None,
    levels: int | None = None,
    pooled: Sequence[Sequence[int]] = (),
) -> RatingFit:
    """Fit ordinal ratings to log hours, with a random effect for each unit.

    ratings : whole numbers (n,), 1 to K, where K is the largest
    log_hours : (n,), natural log of the hours [h] behind each rating, or None
    design : (n, p), further columns without an intercept: an array, a pandas, polars or Arrow frame, or None
    units : (n,), label of the unit behind each rating, or None for no unit effect
    link : logit, probit or cloglog (log-logistic, log-normal or Weibull hours to a rating)
    n_nodes : nodes of the adaptive Gauss-Hermite quadrature for each unit; 1 is the Laplace approximation
    prior : None for maximum likelihood, else the fit is the posterior mode under these priors; a dict names those
    that differ from the defaults, so {} means the defaults
    ratings_high : (n,), upper end of each rating where a range such as 2-3 was given
    levels : K, where the dirtiest rating does not occur; needs a prior
    pooled : groups of design columns (by position) whose effects share an estimated standard deviation; needs a prior

    Raises FitError, with what to do, for input of another shape, ratings outside 1 to K, and where maximum likelihood
    has no finite answer: a rating that does not occur, or columns that separate the ratings perfectly.

    >>> import numpy as np, pandas as pd, draincurve
    >>> rng = np.random.default_rng(1)
    >>> hours, soft = rng.uniform(5, 30, 200), rng.integers(0, 2, 200)
    >>> latent = 2 * np.log(hours / 12) + 0.8 * soft + rng.logistic(size=200)
    >>> ratings = 1 + np.searchsorted([-1, 0, 1, 2], latent)
    >>> fit = draincurve.fit_rating_model(ratings, np.log(hours), pd.DataFrame({"soft": soft}))
    >>> fit
    <RatingFit: 200 ratings, logit link, maximum likelihood, hours slope 2.3, log likelihood -281.951>
    >>> print(f"{fit.coefficients['soft']:.2f}, standard error {fit.standard_errors['soft']:.2f}")
    0.80, standard error 0.26
    """
    columns, matrix = design_columns(design)
    point = fit_point(
        ratings,
        log_hours,
        matrix,
        units,
        link=link,
        n_nodes=n_nodes,
        prior=filled(Priors(), dict(prior), "prior") if isinstance(prior, Mapping) else prior,
        ratings_high=ratings_high,
        levels=levels,
        pooled=pooled,
        column_names=columns.names if columns.from_frame else (),
    )
    labelled = columns.from_frame
    errors = point.standard_errors
    return RatingFit(
        thresholds=point.thresholds,
        hours_slope=point.hours_slope,
        coefficients=pd.Series(point.coefficients, columns.names) if labelled else point.coefficients,
        unit_sd=point.unit_sd,
        unit_effects=pd.Series(point.unit_effects, index=pd.Index(point.unit_labels, name="unit")),
        log_likelihood=point.log_likelihood,
        standard_errors=pd.Series(errors, _names(point, columns)) if labelled else errors,
        link=point.link,
        n_nodes=point.n_nodes,
        converged=point.converged,
        iterations=point.iterations,
        _point=point,
        _columns=columns,
    )


def _names(point: PointFit, columns: DesignColumns) -> list[str]:
    """Names of the parameters, in the order of the standard errors."""
    return [
        *[f"{k}|{k + 1}" for k in range(1, point.thresholds.size + 1)],
        *(["hours_slope"] if point.hours_slope is not None else []),
        *columns.names,
        *(["unit_sd"] if point.unit_sd is not None else []),
    ]


def _estimates(point: PointFit) -> Floats:
    """The parameters, in the same order."""
    ends = [[value] if value is not None else [] for value in (point.hours_slope, point.unit_sd)]
    return np.concatenate((point.thresholds, ends[0], point.coefficients, ends[1]))


def _checked_level(level: float) -> float:
    if not 0.0 < level < 1.0:
        raise FitError(f"level = {level}: expected a probability between 0 and 1, such as 0.90")
    return float(level)
