"""Units against the fleet: hours ratios and who is called faster or slower.

The hours ratio of a unit is exp(-unit_sd * z / slope): 0.72 means that oil in it lasts 0.72x as long as in the
fleet's typical unit on the same spring, oil and rider. A unit is called faster when the posterior probability of a
ratio at or under the shop's threshold is high, as far down the list as the expected share of wrong calls allows
(Newton, Noueiry, Sarkar & Ahlquist 2004, Biostatistics 5, 155-176). Units with few rated drains are never called.
"""

from __future__ import annotations

import numpy as np
import polars as pl

from draincurve.pipeline.fitting import ChannelFit, unit_effect_draws
from draincurve.schemas.array_types import Booleans, Floats
from draincurve.schemas.next_service_table import FASTER, SLOWER, TOO_FEW, WITH_FLEET
from draincurve.schemas.settings import StandingRule


def channel_standings(
    fit: ChannelFit, unit_keys: list[str], *, rule: StandingRule, rng: np.random.Generator
) -> pl.DataFrame:
    """One row a unit: unit_key, channel, rated (drains), hours_ratio (median, low, high), p_faster, p_slower."""
    return effect_standings(fit, unit_keys, effects=unit_effect_draws(fit, unit_keys, rng=rng), rule=rule)


def effect_standings(fit: ChannelFit, unit_keys: list[str], *, effects: Floats, rule: StandingRule) -> pl.DataFrame:
    """The same for units whose effects are drawn already, (units, S) in sd."""
    ratios = hours_ratios(fit, effects)
    low, median, high = np.quantile(ratios, (0.05, 0.5, 0.95), axis=1)
    return pl.DataFrame(
        {
            "unit_key": unit_keys,
            "channel": [fit.drains.channel] * len(unit_keys),
            "hours_ratio": median,
            "hours_ratio_low": low,
            "hours_ratio_high": high,
            "p_faster": np.mean(ratios <= rule.ratio, axis=1),
            "p_slower": np.mean(ratios >= 1.0 / rule.ratio, axis=1),
            "rated": np.append(fit.rated, 0)[fit.unit_index(unit_keys)],
        },
        schema_overrides={"unit_key": pl.String, "rated": pl.Int64},
    )


def hours_ratios(fit: ChannelFit, effects: Floats) -> Floats:
    """Draws of the hours ratio, (units, S)."""
    return np.exp(-fit.unit_sd * effects / fit.hours_slope)


def fleet_standings(by_channel: list[pl.DataFrame], rule: StandingRule) -> pl.DataFrame:
    """One row a unit: unit_key, channel, hours_ratio (low, high), p_faster, standing.

    by_channel : the channels' standings. A unit is judged on the channel that speaks most for faster, among those
    with enough rated drains if there are any: the others only repeat the fleet's distribution. It is called slower
    only if every channel says so.
    """
    rows = pl.concat(by_channel).with_columns((pl.col("rated") >= rule.fewest_drains).alias("enough"))
    judged = rows.sort("enough", "p_faster", "channel", descending=[True, True, False], maintain_order=True).unique(
        "unit_key", keep="first", maintain_order=True
    )
    slower = rows.group_by("unit_key").agg(pl.col("p_slower").min().alias("all_slower"))
    judged = judged.join(slower, on="unit_key", how="left", maintain_order="left")
    enough = judged["enough"].to_numpy()
    faster = _called(judged["p_faster"].to_numpy(), enough, rule=rule)
    slow = _called(judged["all_slower"].to_numpy(), enough & ~faster, rule=rule)
    standing = np.where(~enough, TOO_FEW, np.where(faster, FASTER, np.where(slow, SLOWER, WITH_FLEET)))
    return judged.select(
        "unit_key", "channel", "hours_ratio", "hours_ratio_low", "hours_ratio_high", "p_faster"
    ).with_columns(pl.Series("standing", standing.astype(str)))


def _called(probability: Floats, eligible: Booleans, *, rule: StandingRule) -> Booleans:
    """Which units are called: probability high enough, and expected share of wrong calls within the rule."""
    called = np.zeros(probability.size, dtype=bool)
    candidates = np.flatnonzero(eligible & (probability >= rule.probability))
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
