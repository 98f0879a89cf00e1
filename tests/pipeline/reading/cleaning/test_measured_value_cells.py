"""Cells of measured values, and units of measured quantities."""

import polars as pl
import pytest

from draincurve.pipeline.reading.cleaning.numbers import DecimalMarks
from draincurve.pipeline.reading.cleaning.quantity_cells import read_measured_values
from draincurve.pipeline.reading.cleaning.units_of_measurement import measurement_factor, normalised_unit
from draincurve.schemas.quantities import QUANTITY_OF


def read(*cells):
    return read_measured_values(pl.Series(cells, dtype=pl.String), DecimalMarks())


def test_numbers_units_bounds_and_codes():
    found = read("0,12", "0.12 mm", "< 5 ppm", "18/16/13", "ISO 18/16/>=13", None)
    assert found["value"].to_list() == [0.12, 0.12, 5.0, 18.0, 18.0, None]
    assert found["unit"].to_list() == [None, "mm", "ppm", None, None, None]
    assert found["code"].to_list() == [None, None, None, "18/16/13", "18/16/>=13", None]
    assert found["bound"].to_list() == [False, False, True, False, False, False]
    assert found["reason"].null_count() == 6


@pytest.mark.parametrize(
    ("cell", "wording"),
    [
        ("13/16/18", "more large particles than small"),
        ("40/3/2", "from 0 to 28"),
        ("*/*/-", "no ISO 4406 code"),
        ("1-2", "not one value"),
        ("some", "not a number"),
    ],
)
def test_cells_that_are_no_reading(cell, wording):
    found = read(cell)
    assert found["value"].to_list() == [None]
    assert wording in found["reason"][0]


@pytest.mark.parametrize(
    ("unit", "quantity", "factor"),
    [
        ("ppm", "iron", 1.0),
        ("mg/kg", "iron", 1.0),
        ("%", "water", 10_000.0),
        ("in", "spring_free_length", 25.4),
        ("thou", "bush_clearance", 0.0254),
        ("um", "bush_clearance", 0.001),
        ("ml/min", "seal_weep", 60.0),
        ("cSt", "viscosity_40", 1.0),
        ("per 100 ml", "particles_4um", 0.01),
        ("fl oz", "volume_lost", 29.5735295625),
        ("class", "iso_code_6um", 1.0),
    ],
)
def test_factors(unit, quantity, factor):
    """Exact by definition: 1 inch = 25.4 mm, 1 US fluid ounce = 29.5735295625 ml (NIST Handbook 44, appendix C)."""
    found = measurement_factor(unit, QUANTITY_OF[quantity])
    assert found.reason is None
    assert found.factor == pytest.approx(factor, rel=1e-9)


@pytest.mark.parametrize(
    ("unit", "quantity", "wording"),
    [
        ("mm", "iron", "does not measure Iron"),
        ("cP", "viscosity_40", "does not measure Viscosity"),
        ("ml", "seal_weep", "does not measure Seal weep"),
        ("furlong", "bush_clearance", "not known for Bush clearance"),
        ("mm", "iso_code_4um", "no unit for ISO 4406"),
    ],
)
def test_units_that_do_not_fit(unit, quantity, wording):
    found = measurement_factor(unit, QUANTITY_OF[quantity])
    assert found.factor is None
    assert wording in str(found.reason)


def test_units_of_unknown_quantities_compare_equal():
    assert normalised_unit("Millimetres") == normalised_unit("mm")
    assert normalised_unit("deg") == normalised_unit("DEG.") != normalised_unit("mm")
