"""Measurements under one name and in one unit for each quantity; those that cannot be right are held back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import astuple, dataclass, replace

import polars as pl

from draincurve.pipeline.reading.cleaning.quantity_names import unit_behind, without_unit
from draincurve.pipeline.reading.cleaning.units_of_measurement import measurement_factor, normalised_unit
from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, file_finding, row_findings
from draincurve.pipeline.reading.validating.detection_limits import detection_limits
from draincurve.schemas.quantities import ISO_CODE, QUANTITY_OF, Quantity, known_quantity, squashed_name
from draincurve.schemas.settings import Settings

_CELLS = ("quantity", "unit", "reading_unit", "reading_code", "reading_bound")
_MEANING_SCHEMA = {
    "_quantity": pl.String,
    "_unit": pl.String,
    "_factor": pl.Float64,
    "_low": pl.Float64,
    "_high": pl.Float64,
    "_bound": pl.String,
    "_detected": pl.Float64,
    "_column": pl.String,
    "_reason": pl.String,
    "_note": pl.String,
    "_setting": pl.String,
}
"""The fields of a `_Meaning`, in order."""


@dataclass(frozen=True, slots=True)
class _Meaning:
    """What one combination of quantity and unit as typed means; with `column` and `reason` where it is held back.

    bound : "under" or "over" where only that is known; detected : least value that the laboratory can find, under
    which a value is only known to be under it
    """

    quantity: str
    unit: str
    factor: float = 1.0
    low: float | None = None
    high: float | None = None
    bound: str | None = None
    detected: float | None = None
    column: str | None = None
    reason: str | None = None
    note: str | None = None
    setting: str | None = None


def with_measured_quantities(working: WorkingTable, settings: Settings) -> WorkingTable:
    """The measurements with `quantity`, `value` and `unit` as in schemas/quantities.py, with `code` and `bound`.

    bound : "under" or "over" where the value is only known to be under or over the number (else null).

    An unknown quantity keeps its most frequent spelling and its own unit. Held back are: a unit that does not fit the
    quantity, two different units, an implausible value, a code in place of a value, a bound where small values are
    the worse ones, a word such as trace without a limit of detection in the settings, and viscosities of one day that
    no oil can have. Raises SettingsError for a limit of detection that cannot be read.
    """
    parsed = working.parsed
    if not parsed.height:
        nothing = [pl.lit(None, pl.String).alias(name) for name in ("code", "bound")]
        return working.with_parsed(parsed.with_columns(nothing))
    spelt = _unknown_spellings(parsed["quantity"])
    cells = parsed.select(_CELLS).unique(maintain_order=True).drop_nulls("quantity")
    usual = _usual_units(parsed)
    detected = detection_limits(settings)
    read = [_read(row, spelt=spelt, usual=usual, detected=detected) for row in cells.iter_rows(named=True)]
    meanings = pl.DataFrame([astuple(meaning) for meaning in read], schema=_MEANING_SCHEMA, orient="row")
    joined = parsed.join(cells.hstack(meanings), on=_CELLS, how="left", nulls_equal=True, maintain_order="left")
    value = pl.col("value") * pl.col("_factor").fill_null(1.0)
    little = (pl.col("reading_bound") == "little") | ((value < pl.col("_detected")) & (value >= pl.col("_low")))
    converted = joined.with_columns(
        pl.when(little.fill_null(False)).then("_detected").otherwise(value).alias("value"),
        pl.when(little.fill_null(False)).then(pl.lit("under")).otherwise("_bound").alias("bound"),
        pl.coalesce("_quantity", "quantity").alias("quantity"),
        pl.coalesce("_unit", "unit").alias("unit"),
        pl.col("reading_code").alias("code"),
    )
    as_typed = [name for name in ("value", "unit", "quantity") if name in working.raw.columns]
    rows = converted.with_columns(working.raw[name].alias(f"raw_{name}") for name in as_typed)
    return working.with_parsed(converted.drop(*_MEANING_SCHEMA)).with_findings(
        *_misfits(rows), _implausible(rows), _impossible_viscosities(rows), *_notes(rows)
    )


def _read(
    cells: dict[str, object], *, spelt: dict[str, str], usual: dict[str, str], detected: Mapping[str, float]
) -> _Meaning:
    """One combination of cells."""
    typed, code = str(cells["quantity"]), cells["reading_code"]
    beside, inside = _text(cells["unit"]), _text(cells["reading_unit"])
    name = known_quantity(without_unit(typed))
    if code is not None or name == ISO_CODE:
        return _code(typed, name, code=code)
    if name is None:
        return _unknown(typed, spelt, beside=beside, inside=inside, bound=cells["reading_bound"])
    quantity = QUANTITY_OF[name]
    stated = [unit for unit in (inside, beside, unit_behind(typed)) if unit]
    factors = [measurement_factor(unit, quantity) for unit in stated]
    for unit, factor in zip(stated, factors, strict=True):
        if factor.factor is None:
            column = "unit" if unit == beside else "value" if unit == inside else "quantity"
            return _Meaning(name, quantity.unit, column=column, reason=factor.reason)
    if len({factor.factor for factor in factors}) > 1:
        reason = f"says {' and '.join(stated)}: correct the wrong unit"
        return _Meaning(name, quantity.unit, column="unit", reason=reason)
    scale, note = (factors[0].factor or 1.0, None) if factors else _assumed(quantity, usual)
    least = detected.get(name)
    bound = _bound(quantity, cells["reading_bound"], least=least)
    if isinstance(bound, _Meaning):
        return bound
    if bound is not None:
        note = f"a value only known to be {bound} a bound counts as that, neither as the bound nor as 0"
    return _Meaning(name, quantity.unit, scale, quantity.low, quantity.high, bound, least, note=note)


def _bound(quantity: Quantity, typed: object, *, least: float | None) -> str | _Meaning | None:
    """Side on which a value lies of a bound as typed, or why its row is held back."""
    if typed is None:
        return None
    held = replace(_Meaning(quantity.name, quantity.unit), column="value")
    if quantity.worse != "rising":
        return replace(held, reason="is a bound: write the reading itself")
    if typed == "little" and least is None:
        unit = f" {quantity.unit}" if quantity.unit_kind != "number" else ""
        return replace(
            held,
            reason="says that little was found, not how little: write the laboratory's bound, such as <1",
            setting=f'[detection_limits]\n# {quantity.name} = "...{unit}"  # the least that the laboratory can find',
        )
    return "under" if typed == "little" else str(typed)


def _code(typed: str, name: str | None, *, code: object) -> _Meaning:
    """An ISO 4406 code, or a cell that should hold one."""
    if code is None:
        return _Meaning(ISO_CODE, "class", column="value", reason="is no whole code: write it such as 18/16/13")
    if name is None or (name != ISO_CODE and not name.startswith(("iso_code_", "particles_"))):
        return _Meaning(
            typed, "", column="value", reason=f"is a code of particles, not a value of '{typed}': write the value"
        )
    return _Meaning(ISO_CODE, "class")


def _unknown(typed: str, spelt: dict[str, str], *, beside: str, inside: str, bound: object) -> _Meaning:
    """A quantity that is not in the catalogue, kept as it is."""
    if bound is not None:
        return _Meaning(typed, beside, column="value", reason="is a bound: write the reading itself")
    if beside and inside and normalised_unit(beside) != normalised_unit(inside):
        return _Meaning(typed, beside, column="unit", reason=f"says {inside} and {beside}: correct the wrong unit")
    name = spelt[squashed_name(typed)]
    return _Meaning(name, inside or beside or "", note=f"'{name}' is no quantity that is known here: kept as it is")


def _assumed(quantity: Quantity, usual: dict[str, str]) -> tuple[float, str | None]:
    """Factor of a value without a unit, and a note: the unit that the file uses for this quantity, else its own."""
    if quantity.unit_kind == "number":
        return 1.0, None
    unit = usual.get(quantity.name, quantity.unit)
    factor = measurement_factor(unit, quantity).factor or 1.0
    return factor, f"{quantity.title} without a unit is read as {unit}"


def _usual_units(parsed: pl.DataFrame) -> dict[str, str]:
    """The unit of each quantity that has only one unit in the file."""
    units: dict[str, set[str]] = {}
    for cells in parsed.select(_CELLS).unique(maintain_order=True).drop_nulls("quantity").iter_rows(named=True):
        name = known_quantity(without_unit(str(cells["quantity"])))
        unit = _text(cells["reading_unit"]) or _text(cells["unit"])
        if name is not None and unit:
            units.setdefault(name, set()).add(unit)
    return {name: next(iter(units_typed)) for name, units_typed in units.items() if len(units_typed) == 1}


def _unknown_spellings(names: pl.Series) -> dict[str, str]:
    """The most frequent spelling of each squashed name, on a tie the first in the alphabet."""
    counted = names.drop_nulls().value_counts(sort=True).sort("count", "quantity", descending=[True, False])
    spellings: dict[str, str] = {}
    for name in counted["quantity"]:
        spellings.setdefault(squashed_name(name), name)
    return spellings


def _text(cell: object) -> str:
    return "" if cell is None else str(cell).strip()


def _misfits(rows: pl.DataFrame) -> list[pl.DataFrame]:
    """Measurements whose cells do not fit each other."""
    return [
        _held_back(misfits, str(column), message="_reason")
        for (column,), misfits in rows.filter(pl.col("_reason").is_not_null()).group_by(
            "_column", maintain_order=True
        )
    ]


def _implausible(rows: pl.DataFrame) -> pl.DataFrame:
    """Values that no fork or shock can have."""
    outside = rows.filter((pl.col("value") < pl.col("_low")) | (pl.col("value") > pl.col("_high")))
    number = [pl.col(name).round_sig_figs(6).cast(pl.String) for name in ("value", "_low", "_high")]
    message = pl.format(
        "is not plausible: {} {}, expected {} to {}; correct the value or its unit", number[0], "unit", *number[1:]
    )
    return _held_back(outside.with_columns(message.alias("_message")), "value", message="_message")


def _impossible_viscosities(rows: pl.DataFrame) -> pl.DataFrame:
    """Viscosities of one unit and day that do not fall with temperature, as those of every oil do."""
    pairs = rows.filter(pl.col("quantity").is_in(["viscosity_40", "viscosity_100"]) & pl.col("_reason").is_null())
    hot, cold = (pl.col("value").filter(pl.col("quantity") == name) for name in ("viscosity_100", "viscosity_40"))
    wrong = (
        pairs.drop_nulls(["unit_key", "measured_on", "value"])
        .group_by("unit_key", "measured_on")
        .agg(hot.max().alias("_hot"), cold.min().alias("_cold"))
        .filter(pl.col("_hot") >= pl.col("_cold"))
    )
    impossible = pairs.join(wrong, on=["unit_key", "measured_on"], how="inner", maintain_order="left")
    message = pl.format(
        "cannot be: {} mm2/s at 100 C is not under {} mm2/s at 40 C on that day; correct one, or swap them",
        "_hot", "_cold",
    )  # fmt: skip
    return _held_back(impossible.with_columns(message.alias("_message")), "value", message="_message")


def _notes(rows: pl.DataFrame) -> list[pl.DataFrame]:
    """Notes on how values were read, each once for the file with the number of values."""
    counted = rows.drop_nulls(["_note", "value"]).group_by("_note", maintain_order=True).agg(pl.len().alias("count"))
    return [
        file_finding("quantity", None, kind="note", message=f"{note} ({count} reading{'' if count == 1 else 's'})")
        for note, count in counted.iter_rows()
    ]


def _held_back(rows: pl.DataFrame, column: str, *, message: str) -> pl.DataFrame:
    """Findings that hold back rows, with the cell as typed where the file has the column."""
    shown = rows.drop(column).rename({f"raw_{column}": column}) if f"raw_{column}" in rows.columns else rows
    return row_findings(shown, column, kind="held back", message=pl.col(message), setting=pl.col("_setting"))
