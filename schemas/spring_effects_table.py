"""spring_effects.csv: one row per channel and pair of spring types."""

from __future__ import annotations

import pandera.polars as pa
import polars as pl

from draincurve.schemas.channels import CHANNELS, channel_names
from draincurve.schemas.errors import ContractError
from draincurve.schemas.output_table import checked_table, refuse_where

VERDICTS = ("sheds more", "sheds less", "no practical difference", "cannot tell yet")


class SpringEffects(pa.DataFrameModel):
    """One spring against another, adjusted for rider, oil, surface, site, rater, settling, run-in and unit."""

    channel: str = pa.Field(description="what was rated", isin=channel_names())
    spring_type: str = pa.Field(description="the spring judged; never empty", str_length={"min_value": 1})
    compared_with: str = pa.Field(
        description="the spring it is compared with, the one with more drains", str_length={"min_value": 1}
    )
    hours_multiplier: float = pa.Field(
        description="reaches any rating in so many times the hours; posterior median; empty where the log cannot "
        "separate the two",
        nullable=True,
        gt=0,
    )
    low: float = pa.Field(description="5 % posterior point of the multiplier", nullable=True, ge=0)
    high: float = pa.Field(description="95 % posterior point of the multiplier", nullable=True, gt=0)
    p_value: float = pa.Field(
        description="likelihood-ratio test; empty where the log cannot separate the two", nullable=True, ge=0, le=1
    )
    p_adjusted: float = pa.Field(
        description="the same after Holm's correction over all rows with a test", nullable=True, ge=0, le=1
    )
    p_permutation: float = pa.Field(
        description="check: names of the two exchanged at random in whole units", nullable=True, ge=0, le=1
    )
    verdict: str = pa.Field(
        description="; ".join(
            f"for the oil's {channel.name}, shedding means {channel.high_rating[1]}: the limit comes in fewer hours"
            for channel in CHANNELS
            if channel.high_rating is not None
        ),
        isin=VERDICTS,
    )
    drains: int = pa.Field(description="drains on the two springs together", ge=2)
    units: int = pa.Field(description="units that ran either", ge=1)
    shared_riders: int = pa.Field(description="riders seen with both", ge=0)
    shared_oils: int = pa.Field(description="oils seen with both", ge=0)
    drains_needed: int = pa.Field(
        description="further drains, shared out as so far, that would settle it with 80 % power; empty where it is "
        "settled, or where no number of such drains would",
        nullable=True,
        ge=1,
    )

    class Config:
        """Exactly these columns, in this order."""

        strict = True
        ordered = True


COLUMNS = tuple(SpringEffects.to_schema().columns)


def checked_spring_effects(table: pl.DataFrame) -> pl.DataFrame:
    """The table, if it follows every rule over its columns. Raises ContractError otherwise."""
    name = "spring_effects"
    checked_table(table, SpringEffects, name)
    for low, high in (("low", "hours_multiplier"), ("hours_multiplier", "high"), ("p_value", "p_adjusted")):
        refuse_where(table, pl.col(low) > pl.col(high) + 1e-12, name, f"{low} is not over {high}")
    refuse_where(
        table, pl.col("spring_type") == pl.col("compared_with"), name, "a spring is not compared with itself"
    )
    unsettled = pl.col("verdict") == "cannot tell yet"
    refuse_where(
        table, pl.col("p_value").is_null() & ~unsettled, name, "a verdict other than cannot tell yet has a test"
    )
    refuse_where(
        table,
        pl.any_horizontal(pl.col("hours_multiplier", "low", "high").is_null() != pl.col("p_value").is_null()),
        name,
        "a multiplier, its range and its test are there together or not at all",
    )
    refuse_where(table, pl.col("drains_needed").is_not_null() & ~unsettled, name, "what is settled needs no drains")
    refuse_where(table, pl.col("units") > pl.col("drains"), name, "no more units than drains")
    pairs = table.select("channel", pl.concat_list("spring_type", "compared_with").list.sort().alias("pair"))
    if pairs.is_duplicated().any():
        raise ContractError(f"{name}: a pair appears twice in one channel")
    return table
