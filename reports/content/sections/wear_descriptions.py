"""Sentences on a measured quantity: what it means, its limit, how it changes with hours."""

from __future__ import annotations

import numpy as np

from draincurve.pipeline.deciding import QuantityWear
from draincurve.pipeline.fitting.degradation import WearFit
from draincurve.pipeline.judging import FleetLimit
from draincurve.reports.content import wording


def wear_sentences(quantity: QuantityWear) -> tuple[str, ...]:
    """What the quantity means, its limit, and how it changes with hours."""
    clock = "hours on the oil" if quantity.clock == "oil" else "hours on the part since it was new or rebuilt"
    sentences = [wording.sentence(f"{quantity.meaning}; over {clock}")]
    if quantity.limit is not None:
        sentences.append(
            f"Limit: {quantity.limit.label} ({quantity.limit.source}, written as '{quantity.limit.text}')."
        )
    else:
        sentences.append("No limit is set, so no date follows from it. Set one under [wear_limits] in the settings.")
    if quantity.looks is not None:
        look, act = quantity.looks
        sentences.append(
            f"A change of {look:g} % from new calls for a look and {act:g} % for action: a common start in "
            "industry (trade literature), not the maker's specification."
        )
    if quantity.why_not is not None:
        sentences.append(wording.sentence(f"No line was fitted: {quantity.why_not}"))
    elif quantity.fit is not None:
        sentences.append(_growth(quantity.fit, unit=quantity.unit))
        sentences += _goes_with(quantity.fit)
    if isinstance(quantity.fleet_limit, FleetLimit):
        sentences.append(_fleet_limit_text(quantity.fleet_limit, quantity))
    elif quantity.fleet_limit:
        sentences.append(quantity.fleet_limit)
    return tuple(sentences)


def _growth(fit: WearFit, *, unit: str) -> str:
    """The fleet's change in ten hours, with twice its standard error."""
    slope, error = fit.slope
    changes = 10.0 * np.array([slope, slope - 2 * error, slope + 2 * error])
    middle, low, high = 100.0 * np.expm1(changes) if fit.log_scale else changes
    changed = "%" if fit.log_scale else unit.removesuffix(" from new")
    clear = "" if low > 0 or high < 0 else "; the change may be zero or opposite, which is not taken as safe"
    return f"In ten hours it changes by {middle:.2g} {changed} in the typical unit ({low:.2g} to {high:.2g}){clear}."


def _goes_with(fit: WearFit) -> list[str]:
    """Whether a unit's value and its ratings are correlated."""
    correlation = fit.goes_with
    if correlation is None:
        return []
    numbers = (
        f"correlation {correlation.median:.2f} ({correlation.low:.2f} to {correlation.high:.2f}), "
        f"{wording.counted(correlation.units, 'unit')} with both"
    )
    if correlation.low <= 0.0 <= correlation.high:
        return [
            f"Whether it goes with a unit's {correlation.channel} is open: {numbers}. Each says little of the other."
        ]
    return [f"It goes with a unit's {correlation.channel}: {numbers}. So each sharpens what is said of the other."]


def _fleet_limit_text(limit: FleetLimit, quantity: QuantityWear) -> str:
    return (
        f"From the fleet's own {limit.readings} parts: {100 * limit.share:.0f} % of readings are "
        f"{'under' if limit.side == 'over' else 'over'} {limit.value:.3g} {quantity.unit} ({limit.low:.3g} to "
        f"{limit.high:.3g}; {limit.method}). Take a look from {limit.look_from:.3g} {quantity.unit} on: "
        f"{limit.beyond} of the {limit.readings} are there now, and if all were healthy about "
        f"{100 * limit.flagged:.0f} % of units would be. This is a statistical limit: it says what is unusual in "
        "this fleet, sets no date, and never says that a part is fit to ride."
    )


def wear_notes(quantity: QuantityWear) -> tuple[str, ...]:
    """Readings left out, and notes on the fit."""
    sentences = list(quantity.left_out)
    if quantity.fit is not None and quantity.fit.note:
        sentences.append(wording.sentence(quantity.fit.note))
    return tuple(sentences)
