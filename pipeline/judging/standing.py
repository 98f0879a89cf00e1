"""Units against the fleet: hours ratios and who is called faster or slower.

The hours ratio of a unit is the hours at which its oil reaches the accepted risk over those of the fleet's typical
unit on the same spring, oil and rider: 0.72 means that oil in it lasts 0.72x as long. Units are called faster in the
order of the posterior probability of a ratio at or under the shop's, as far down the list as the expected share of
wrong calls allows (Newton, Noueiry, Sarkar & Ahlquist 2004, Biostatistics 5, 155-176). Units with few rated drains
are never called.
"""

from __future__ import annotations

import numpy as np
import polars as pl

from draincurve.schemas.array_types import Booleans, Floats, Integers
from draincurve.schemas.next_service_table import FASTER, SLOWER, TOO_FEW, WITH_FLEET
from draincurve.schemas.settings import StandingRule


def ratio_standings(
    unit_keys: list[str], ratios: Floats, *, channels: list[str], rated: Integers, rule: StandingRule
) -> pl.DataFrame:
    """One row a unit: unit_key, channel, rated (drains), hours_ratio (median, low, high), p_faster, p_slower.

    ratios : draws of the hours ratio, (units, S); channels : the channel that says most about each unit
    """
    low, median, high = np.quantile(ratios, (0.05, 0.5, 0.95), axis=1)
    return pl.DataFrame(
        {
            "unit_key": unit_keys,
            "channel": channels,
            "hours_ratio": median,
            "hours_ratio_low": low,
            "hours_ratio_high": high,
            "p_faster": np.mean(ratios <= rule.ratio, axis=1),
            "p_slower": np.mean(ratios >= 1.0 / rule.ratio, axis=1),
            "rated": rated,
        },
        schema_overrides={"unit_key": pl.String, "channel": pl.String, "rated": pl.Int64},
    )


def fleet_standings(units: pl.DataFrame, rule: StandingRule) -> pl.DataFrame:
    """One row a unit: unit_key, channel, hours_ratio (low, high), p_faster, standing.

    units : as `ratio_standings` gives them, of the whole fleet.
    """
    enough = (units["rated"] >= rule.fewest_drains).to_numpy()
    faster = _called(units["p_faster"].to_numpy(), enough, rule=rule)
    slow = _called(units["p_slower"].to_numpy(), enough & ~faster, rule=rule)
    standing = np.where(~enough, TOO_FEW, np.where(faster, FASTER, np.where(slow, SLOWER, WITH_FLEET)))
    return units.select(
        "unit_key", "channel", "hours_ratio", "hours_ratio_low", "hours_ratio_high", "p_faster"
    ).with_columns(pl.Series("standing", standing.astype(str)))


def _called(probability: Floats, eligible: Booleans, *, rule: StandingRule) -> Booleans:
    """Which units are called: the list is cut where the expected share of wrong calls would pass the rule."""
    called = np.zeros(probability.size, dtype=bool)
    candidates = np.flatnonzero(eligible & (probability >= (rule.probability or 0.0)))
    order = candidates[np.argsort(-probability[candidates], kind="stable")]
    wrong = np.cumsum(1.0 - probability[order]) / np.arange(1, order.size + 1)
    called[order[wrong <= rule.false_discovery]] = True
    return called


def no_standings(unit_keys: list[str]) -> pl.DataFrame:
    """The same columns where nothing was fitted: every unit has too few drains."""
    empty = pl.lit(None, dtype=pl.Float64)
    return pl.DataFrame({"unit_key": unit_keys}, schema={"unit_key": pl.String}).select(
        "unit_key",
        pl.lit(None, dtype=pl.String).alias("channel"),
        *(empty.alias(name) for name in ("hours_ratio", "hours_ratio_low", "hours_ratio_high", "p_faster")),
        pl.lit(TOO_FEW).alias("standing"),
    )
