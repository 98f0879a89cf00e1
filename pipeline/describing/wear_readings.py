"""Accepted measurements as one series for each quantity: values over the hours on the oil or on the part."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import polars as pl

from draincurve.pipeline.describing.wear_limits import Basis, LimitKey, WearLimit
from draincurve.pipeline.reading import numbered_fills, reset_days, with_drains_of_samples
from draincurve.pipeline.reading.cleaning import normalised_unit
from draincurve.schemas.quantities import CODE_SIZES_UM, ISO_CODE, QUANTITY_OF, Quantity, Worse, squashed_name
from draincurve.schemas.service_kinds import is_oil_change
from draincurve.schemas.settings import LaboratoryRule

FITTED_PART_H = 1.0
"""Hours on the part [h] under which a reading on the day of a rebuild is of the new part, else of the old one."""


@dataclass(frozen=True, slots=True)
class WearSeries:
    """One quantity's readings.

    quantity : a known one, or one of the shop's own that has a limit
    unit : of the values, "% from new" for a change; limit : None where none is set
    readings : unit_key, unit_id, site, measured_on, value, clock_h (hours on the oil or the part [h], null where not
    known), part (number of the part in its unit), now (whether the part is in the unit now; always true for oil),
    bound ("under" or "over" where the value is only known to be that of the number), fill (number of the fill in its
    unit, null for parts), in_doubt (whether it may be of another drain, or of none)
    without_new : readings left out because the value of a new part or oil is not known
    """

    quantity: Quantity
    unit: str
    limit: WearLimit | None
    readings: pl.DataFrame
    without_new: int

    @property
    def log_scale(self) -> bool:
        """Whether lines are of the log of the values; a change from new is fitted as it is."""
        return self.quantity.scale == "log" and not self.unit.startswith("%")


def wear_series(
    measurements: pl.DataFrame,
    drains: pl.DataFrame,
    *,
    oils: pl.DataFrame | None,
    limits: Mapping[LimitKey, WearLimit],
    as_of: date,
    rule: LaboratoryRule,
) -> tuple[WearSeries, ...]:
    """Series of the known quantities, in their order, then of the shop's own quantities that have a limit.

    measurements, drains, oils : accepted rows; limits : as `parsed_limits` gives them; rule : which drain a sample of
    the oil belongs to.
    """
    single = _with_split_codes(measurements.filter(pl.col("measured_on") <= as_of))
    known = drains.filter(pl.col("drained_on") <= as_of)
    series: list[WearSeries] = []
    for name, quantity in QUANTITY_OF.items():
        rows = single.filter(pl.col("quantity") == name)
        if rows.height:
            clocked = _clocked(rows, quantity, single, known, rule)
            series += _by_basis(clocked, quantity, oils, known, limits)
    for key, limit in limits.items():
        rows = _own_readings(single, key, limit)
        if rows.height:
            quantity = _own_quantity(rows, limit)
            series.append(WearSeries(quantity, limit.unit, limit, _clocked(rows, quantity, single, known, rule), 0))
    return tuple(series)


def unknown_quantities(measurements: pl.DataFrame) -> tuple[tuple[str, str, int], ...]:
    """Name, unit and number of readings of each quantity that is not a known one."""
    known = [*QUANTITY_OF, ISO_CODE]
    rows = measurements.filter(~pl.col("quantity").is_in(known))
    counted = rows.group_by("quantity", "unit").agg(pl.len()).sort("quantity", "unit")
    return tuple((name, unit or "", count) for name, unit, count in counted.iter_rows())


def _with_split_codes(measurements: pl.DataFrame) -> pl.DataFrame:
    """The measurements with each whole ISO 4406 code as one reading for each size that was counted."""
    codes = measurements.filter(pl.col("quantity") == ISO_CODE)
    pieces = [measurements.filter(pl.col("quantity") != ISO_CODE)]
    for position, size in enumerate(CODE_SIZES_UM):
        numbers = [_scale_number(code, position) for code in codes["code"]]
        pieces.append(
            codes.with_columns(
                pl.lit(f"iso_code_{size}um").alias("quantity"), pl.Series("value", numbers, dtype=pl.Float64)
            ).drop_nulls("value")
        )
    return pl.concat(pieces)


def _scale_number(code: str | None, position: int) -> float | None:
    """One number of an ISO 4406 code such as 22/19/>=14; None where that size was not counted."""
    digits = None if code is None else re.search(r"\d+", code.split("/")[position])
    return None if digits is None else float(digits[0])


def _clocked(
    rows: pl.DataFrame, quantity: Quantity, stated: pl.DataFrame, drains: pl.DataFrame, rule: LaboratoryRule
) -> pl.DataFrame:
    """The readings with clock_h, part, now, fill and in_doubt."""
    named = rows.select("unit_key", "unit_id", "site", "measured_on", "value", "bound", "component_hours", "line")
    if quantity.clock == "oil":
        return _oil_clock(named, drains, rule)
    of_part = [pl.lit(None, pl.Int64).alias("fill"), pl.lit(False).alias("in_doubt")]
    return _part_clock(named, reset_days(stated, drains, with_new_parts=False), drains).with_columns(of_part)


def _oil_clock(rows: pl.DataFrame, drains: pl.DataFrame, rule: LaboratoryRule) -> pl.DataFrame:
    """Readings of the oil. Their hours are those of the drain that they belong to, else as typed."""
    return with_drains_of_samples(rows, drains, rule).select(
        *("unit_key", "unit_id", "site", "measured_on", "value", "bound", "clock_h"),
        pl.lit(0, pl.Int64).alias("part"),
        pl.lit(True).alias("now"),
        *("fill", "in_doubt"),
    )


def _part_clock(rows: pl.DataFrame, resets: pl.DataFrame, drains: pl.DataFrame) -> pl.DataFrame:
    """Readings of a part. Their hours are as typed, else as logged since a rebuild up to a drain of the same day.

    A part ends with a rebuild, or where its hours fall, which validation accepts only with new parts in between.
    """
    ordered = rows.sort("unit_key", "measured_on", "line").with_row_index("_row")
    before = ordered.join(resets, on="unit_key", how="left").with_columns(
        (
            (pl.col("reset_on") < pl.col("measured_on"))
            | ((pl.col("reset_on") == pl.col("measured_on")) & (pl.col("component_hours") < FITTED_PART_H))
        )
        .fill_null(False)
        .alias("_ended")
    )
    counted = before.group_by("_row").agg(
        pl.col("_ended").sum().cast(pl.Int64).alias("_resets"),
        pl.col("reset_on").filter("_ended").max().alias("_since"),
        pl.col("reset_on").count().cast(pl.Int64).alias("_all"),
    )
    timed = ordered.join(counted, on="_row").sort("_row")
    clocked = timed.with_columns(pl.coalesce("component_hours", _logged_hours(timed, drains)).alias("clock_h"))
    fell = (
        pl.col("clock_h") < pl.col("clock_h").forward_fill().over("unit_key").shift(1).over("unit_key")
    ).fill_null(False)
    other = (pl.col("_resets") != pl.col("_resets").shift(1)).over("unit_key").fill_null(False)
    parts = clocked.with_columns((fell | other).cast(pl.Int64).cum_sum().over("unit_key").alias("part"))
    last = pl.col("part") == pl.col("part").max().over("unit_key")
    return parts.with_columns((last & (pl.col("_resets") == pl.col("_all"))).alias("now")).drop(
        "_row", "_resets", "_since", "_all", "component_hours", "line"
    )


def _logged_hours(timed: pl.DataFrame, drains: pl.DataFrame) -> pl.Series:
    """Hours of the drains between the reset before a reading and the drain of its day; null without both."""
    fills = _changes(drains).select("unit_key", pl.col("measured_on").alias("_drained"), "oil_hours")
    asked = timed.filter(pl.col("component_hours").is_null() & pl.col("_since").is_not_null())
    within = asked.join(fills, on="unit_key", how="inner").filter(
        (pl.col("_drained") > pl.col("_since")) & (pl.col("_drained") <= pl.col("measured_on"))
    )
    summed = within.group_by("_row").agg(
        pl.col("oil_hours").sum().alias("_hours"),
        (pl.col("_drained") == pl.col("measured_on")).any() & pl.col("oil_hours").is_not_null().all(),
    )
    whole = summed.filter(pl.col("_drained")).select("_row", "_hours")
    return timed.select("_row").join(whole, on="_row", how="left", maintain_order="left")["_hours"]


def _changes(drains: pl.DataFrame) -> pl.DataFrame:
    """Oil changes, without top-ups."""
    return drains.filter(is_oil_change()).rename({"drained_on": "measured_on"})


def _by_basis(
    clocked: pl.DataFrame,
    quantity: Quantity,
    oils: pl.DataFrame | None,
    drains: pl.DataFrame,
    limits: Mapping[LimitKey, WearLimit],
) -> list[WearSeries]:
    """The series of a quantity as measured, as a change from new, or both, by the limits that are set."""
    absolute, change = (limits.get(LimitKey(quantity.name, basis)) for basis in _BASES)
    series = []
    relative = _from_new(clocked, quantity, oils, drains) if quantity.from_new else clocked.clear()
    judged_by_change = quantity.clock == "oil" and absolute is None and relative.height > 0
    if change is not None or judged_by_change:
        series.append(WearSeries(quantity, "% from new", change, relative, clocked.height - relative.height))
    if absolute is not None or not series:
        series.append(WearSeries(quantity, quantity.unit, absolute, clocked, 0))
    return series


_BASES: tuple[Basis, Basis] = ("absolute", "from new")


def _from_new(
    clocked: pl.DataFrame, quantity: Quantity, oils: pl.DataFrame | None, drains: pl.DataFrame
) -> pl.DataFrame:
    """Readings as a change from new in percent, where the new value is known.

    The new viscosity is that of the fill's grade in the table of oils. Otherwise, and for parts, the new value is the
    reading of the same fill or part at zero hours.
    """
    new_values = (
        clocked.filter(pl.col("clock_h") <= 0.0)
        .group_by("unit_key", "part")
        .agg(pl.col("value").mean().alias("_own"))
    )
    joined = clocked.join(new_values, on=["unit_key", "part"], how="left", maintain_order="left")
    column = {"viscosity_40": "kv40", "viscosity_100": "kv100"}.get(quantity.name)
    if oils is not None and column is not None:
        joined = _with_grade(joined, drains).join(
            oils.select("oil_grade", pl.col(column).alias("_new")).drop_nulls().unique("oil_grade", keep="none"),
            on="oil_grade",
            how="left",
            maintain_order="left",
        )
    else:
        joined = joined.with_columns(pl.lit(None, pl.Float64).alias("_new"))
    change = 100.0 * (pl.col("value") / pl.coalesce("_new", "_own") - 1.0)
    return joined.with_columns(change.alias("value")).drop_nulls("value").select(clocked.columns)


def _with_grade(rows: pl.DataFrame, drains: pl.DataFrame) -> pl.DataFrame:
    """The readings with the grade of their fill: of the drain that ended it, else of the unit's last drain."""
    days = numbered_fills(drains)
    fills = _changes(drains).group_by("unit_key", "measured_on").agg(pl.col("oil_grade").last())
    graded = days.join(fills, left_on=["unit_key", "drained_on"], right_on=["unit_key", "measured_on"])
    last = graded.sort("drained_on").group_by("unit_key").agg(pl.col("oil_grade").last().alias("_last"))
    return (
        rows.join(graded.select("unit_key", "fill", "oil_grade"), on=["unit_key", "fill"], how="left",
                  maintain_order="left")
        .join(last, on="unit_key", how="left", maintain_order="left")
        .with_columns(pl.coalesce("oil_grade", "_last").alias("oil_grade"))
        .drop("_last")
    )  # fmt: skip


def _own_readings(single: pl.DataFrame, key: LimitKey, limit: WearLimit) -> pl.DataFrame:
    """Readings of one of the shop's own quantities, in the unit of its limit."""
    if key.quantity in QUANTITY_OF:
        return single.clear()
    names = [name for name in single["quantity"].unique() if squashed_name(name) == key.quantity]
    rows = single.filter(pl.col("quantity").is_in(names))
    fits = pl.Series([normalised_unit(unit or "") == limit.unit for unit in rows["unit"]], dtype=pl.Boolean)
    return rows.filter(fits)


def _own_quantity(rows: pl.DataFrame, limit: WearLimit) -> Quantity:
    """One of the shop's own quantities, as the wear of a part over its hours."""
    name = str(rows["quantity"][0])
    worse: Worse = "either"
    if limit.low is None or limit.high is None:
        worse = "rising" if limit.low is None else "falling"
    return Quantity(name, name, "a quantity of the shop's own", str(rows["unit"][0] or ""), "number",
                    -float("inf"), float("inf"), "part", worse)  # fmt: skip
