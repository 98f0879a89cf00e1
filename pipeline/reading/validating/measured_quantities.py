"""Readings under one name and in one unit for each quantity; what cannot be such a reading is held back."""

from __future__ import annotations

import re
from dataclasses import dataclass

import polars as pl

from draincurve.pipeline.reading.cleaning.units_of_measurement import measurement_factor, normalised_unit
from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, about_file, found
from draincurve.schemas.quantities import ISO_CODE, QUANTITY_OF, Quantity, known_quantity, squashed_name

_CELLS = ("quantity", "unit", "reading_unit", "reading_code", "reading_bound")
_UNIT_IN_NAME = re.compile(r"(?:\(([^()]+)\)|\[([^\[\]]+)\]|\b(ppm|percent)|(%))\s*$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class _Meaning:
    """What one combination of quantity and unit as typed means; `column` and `reason` where it is held back."""

    quantity: str
    unit: str
    factor: float = 1.0
    low: float | None = None
    high: float | None = None
    column: str | None = None
    reason: str | None = None
    note: str | None = None


def with_measured_quantities(working: WorkingTable) -> WorkingTable:
    """The measurements with `quantity`, `value` and `unit` as the catalogue has them, and `code`.

    A quantity that is not known keeps its commonest spelling and its own unit. Held back: a unit that does not fit
    the quantity, two units that differ, a value outside what is plausible, a code where a value should be, a bound
    ("<") where small is the worse side, and viscosities of one day that no oil can have.
    """
    typed = working.typed
    if not typed.height:
        return working.with_typed(typed.with_columns(pl.lit(None, pl.String).alias("code")))
    spelt = _unknown_spellings(typed["quantity"])
    cells = typed.select(_CELLS).unique(maintain_order=True).drop_nulls("quantity")
    usual = _usual_units(typed)
    meanings = pl.DataFrame([_meaning(row, spelt, usual) for row in cells.iter_rows(named=True)], schema=_SCHEMA)
    joined = typed.join(cells.hstack(meanings), on=_CELLS, how="left", nulls_equal=True, maintain_order="left")
    value = pl.col("value") * pl.col("_factor").fill_null(1.0)
    read = joined.with_columns(
        value.alias("value"),
        pl.coalesce("_quantity", "quantity").alias("quantity"),
        pl.coalesce("_unit", "unit").alias("unit"),
        pl.col("reading_code").alias("code"),
    )
    told = read.with_columns(working.raw[name].alias(f"raw_{name}") for name in ("value", "unit", "quantity")
                             if name in working.raw.columns)  # fmt: skip
    findings = [
        *_misfits(told),
        _implausible(told),
        _impossible_viscosities(told),
        *_notes(told),
    ]
    return working.with_typed(read.drop(*_SCHEMA)).with_findings(*findings)


_SCHEMA = pl.Schema(
    {"_quantity": pl.String, "_unit": pl.String, "_factor": pl.Float64, "_low": pl.Float64, "_high": pl.Float64,
     "_column": pl.String, "_reason": pl.String, "_note": pl.String}
)  # fmt: skip


def _meaning(cells: dict[str, object], spelt: dict[str, str], usual: dict[str, str]) -> dict[str, object]:
    meaning = _read(cells, spelt, usual)
    return {f"_{name}": getattr(meaning, name) for name in (item.removeprefix("_") for item in _SCHEMA)}


def _read(cells: dict[str, object], spelt: dict[str, str], usual: dict[str, str]) -> _Meaning:
    """One combination of cells."""
    typed, code = str(cells["quantity"]), cells["reading_code"]
    beside, inside = _text(cells["unit"]), _text(cells["reading_unit"])
    name = known_quantity(_without_unit(typed))
    if code is not None or name == ISO_CODE:
        return _code(typed, name, code)
    if name is None:
        return _unknown(typed, spelt, beside, inside)
    quantity = QUANTITY_OF[name]
    stated = [unit for unit in (inside, beside, _named_unit(typed)) if unit]
    factors = [measurement_factor(unit, quantity) for unit in stated]
    for unit, factor in zip(stated, factors, strict=True):
        if factor.factor is None:
            column = "unit" if unit == beside else "value" if unit == inside else "quantity"
            return _Meaning(name, quantity.unit, column=column, reason=factor.reason)
    if len({factor.factor for factor in factors}) > 1:
        reason = f"says {' and '.join(stated)}: one unit is wrong"
        return _Meaning(name, quantity.unit, column="unit", reason=reason)
    scale, note = (factors[0].factor or 1.0, None) if factors else _assumed(quantity, usual)
    if cells["reading_bound"]:
        if quantity.worse != "rising":
            return _Meaning(name, quantity.unit, column="value", reason="is a bound: write the reading itself")
        note = "a value that is only known to be under a bound counts as that bound"
    return _Meaning(name, quantity.unit, scale, quantity.low, quantity.high, note=note)


def _code(typed: str, name: str | None, code: object) -> _Meaning:
    """A whole ISO 4406 code, or what should be one."""
    if code is None:
        return _Meaning(ISO_CODE, "class", column="value", reason="is no whole code: write it such as 18/16/13")
    if name is None or (name != ISO_CODE and not name.startswith(("iso_code_", "particles_"))):
        return _Meaning(typed, "", column="value", reason=f"is a code of particles, not a value of '{typed}'")
    return _Meaning(ISO_CODE, "class")


def _unknown(typed: str, spelt: dict[str, str], beside: str, inside: str) -> _Meaning:
    """A quantity that the catalogue has not: kept as it is."""
    if beside and inside and normalised_unit(beside) != normalised_unit(inside):
        return _Meaning(typed, beside, column="unit", reason=f"says {inside} and {beside}: one unit is wrong")
    name = spelt[squashed_name(typed)]
    return _Meaning(name, inside or beside or "", note=f"'{name}' is no quantity that is known here: kept as it is")


def _assumed(quantity: Quantity, usual: dict[str, str]) -> tuple[float, str | None]:
    """Factor of a reading without a unit: the one that the file uses for this quantity, else its own."""
    if quantity.unit_kind == "number":
        return 1.0, None
    unit = usual.get(quantity.name, quantity.unit)
    factor = measurement_factor(unit, quantity).factor or 1.0
    return factor, f"{quantity.title} without a unit is read as {unit}"


def _usual_units(typed: pl.DataFrame) -> dict[str, str]:
    """The unit of each quantity whose readings name only one."""
    units: dict[str, set[str]] = {}
    for cells in typed.select(_CELLS).unique(maintain_order=True).drop_nulls("quantity").iter_rows(named=True):
        name = known_quantity(_without_unit(str(cells["quantity"])))
        unit = _text(cells["reading_unit"]) or _text(cells["unit"])
        if name is not None and unit:
            units.setdefault(name, set()).add(unit)
    return {name: next(iter(found)) for name, found in units.items() if len(found) == 1}


def _unknown_spellings(names: pl.Series) -> dict[str, str]:
    """Squashed name to its commonest spelling, the first of equally common ones."""
    counted = names.drop_nulls().value_counts(sort=True).sort("count", "quantity", descending=[True, False])
    found: dict[str, str] = {}
    for name in counted["quantity"]:
        found.setdefault(squashed_name(name), name)
    return found


def _without_unit(typed: str) -> str:
    bare = _UNIT_IN_NAME.sub("", typed)
    return bare if squashed_name(bare) else typed


def _named_unit(typed: str) -> str:
    match = _UNIT_IN_NAME.search(typed)
    return next((part for part in match.groups() if part), "") if match else ""


def _text(cell: object) -> str:
    return "" if cell is None else str(cell).strip()


def _misfits(told: pl.DataFrame) -> list[pl.DataFrame]:
    """Readings whose cells do not fit each other."""
    return [
        _held(rows, str(column), "_reason")
        for (column,), rows in told.filter(pl.col("_reason").is_not_null()).group_by("_column", maintain_order=True)
    ]


def _implausible(told: pl.DataFrame) -> pl.DataFrame:
    """Values that no fork or shock can have."""
    outside = told.filter((pl.col("value") < pl.col("_low")) | (pl.col("value") > pl.col("_high")))
    number = [pl.col(name).round_sig_figs(6).cast(pl.String) for name in ("value", "_low", "_high")]
    message = pl.format(
        "is not plausible: {} {}, expected {} to {}; a slip of the unit?", number[0], "unit", *number[1:]
    )
    return _held(outside.with_columns(message.alias("_message")), "value", "_message")


def _impossible_viscosities(told: pl.DataFrame) -> pl.DataFrame:
    """Viscosities of one unit and day of which the hot one is not the smaller: every oil thins as it warms."""
    pairs = told.filter(pl.col("quantity").is_in(["viscosity_40", "viscosity_100"]) & pl.col("_reason").is_null())
    hot, cold = (pl.col("value").filter(pl.col("quantity") == name) for name in ("viscosity_100", "viscosity_40"))
    wrong = (
        pairs.drop_nulls(["unit_key", "measured_on", "value"])
        .group_by("unit_key", "measured_on")
        .agg(hot.max().alias("_hot"), cold.min().alias("_cold"))
        .filter(pl.col("_hot") >= pl.col("_cold"))
    )
    rows = pairs.join(wrong, on=["unit_key", "measured_on"], how="inner", maintain_order="left")
    message = pl.format(
        "cannot be: {} mm2/s at 100 C is not under {} mm2/s at 40 C on that day; one is wrong, or they are swapped",
        "_hot", "_cold",
    )  # fmt: skip
    return _held(rows.with_columns(message.alias("_message")), "value", "_message")


def _notes(told: pl.DataFrame) -> list[pl.DataFrame]:
    """How readings were taken, said once for the file with the number of them."""
    counted = told.drop_nulls(["_note", "value"]).group_by("_note", maintain_order=True).agg(pl.len().alias("count"))
    return [
        about_file("quantity", None, "note", f"{note} ({count} {'reading' if count == 1 else 'readings'})")
        for note, count in counted.iter_rows()
    ]


def _held(rows: pl.DataFrame, column: str, message: str) -> pl.DataFrame:
    """Rows that are held back, with the cell as it was typed."""
    shown = rows.drop(column).rename({f"raw_{column}": column}) if f"raw_{column}" in rows.columns else rows
    return found(shown, column, "held back", pl.col(message))
