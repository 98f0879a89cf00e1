"""Words for units: the factor is pint's."""

import subprocess
import sys

import pytest

from draincurve.pipeline.reading.cleaning import units_of_measurement
from draincurve.pipeline.reading.cleaning.units_of_measurement import (
    TARGETS,
    UNIT_OF_WORD,
    measurement_factor,
    normalised_unit,
    unit_factor,
)
from draincurve.schemas.quantities import QUANTITY_OF


def test_every_word_has_a_pint_unit_and_fits_something_or_nothing() -> None:
    for word in UNIT_OF_WORD:
        verdicts = [unit_factor(word, kind) for kind in TARGETS]
        assert all((verdict.factor is None) == (verdict.reason is not None) for verdict in verdicts)
        assert all(verdict.factor is None or verdict.factor > 0 for verdict in verdicts)


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


def test_common_factors_are_those_of_pint(monkeypatch: pytest.MonkeyPatch) -> None:
    common = dict(units_of_measurement._COMMON_FACTORS)
    monkeypatch.setattr(units_of_measurement, "_COMMON_FACTORS", {})
    assert {pair: units_of_measurement._factor(*pair) for pair in common} == common


def test_the_registry_is_read_only_when_a_rarer_unit_is_converted() -> None:
    said = """
import sys
from draincurve.pipeline.reading.cleaning.units_of_measurement import unit_factor
print(unit_factor("h", "run hours").factor, "pint" in sys.modules)
print(unit_factor("min", "run hours").factor * 60, "pint" in sys.modules)
print(unit_factor("s", "run hours").factor * 3600, "pint" in sys.modules)
"""
    done = subprocess.run([sys.executable, "-c", said], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["1.0", "False", "1.0", "False", "1.0", "True"]
