"""The catalogue of oils against the viscosity standards' own examples and tables.

ASTM D2270 (viscosity index): the worked examples of 5.1.4 and 6.1.4 (1), as the standard's reprinted text has them
(92 and 156); the second example of procedure B, 6.1.4 (2), whose inputs were found and whose 111 is from memory. The
unrounded values were computed with the library chemicals 1.5.2. ASTM D341 (viscosity and temperature): a public
worksheet for 32 mm2/s at 40 C and 5.4 at 100 C (A 9.5259, B 3.7449 and 8.5 mm2/s at 80 C, with an offset of 273);
its values with 273.15 and those of thin oils were computed from the formulas of D341-09. ISO 3448:1992: the table of
grades as public tables have it, VG 2200 and 3200 from memory.
"""

import json
from pathlib import Path

import pytest

from draincurve.pipeline.describing.viscosity import (
    ISO_GRADES,
    basis,
    grade_limits,
    grade_name,
    iso_grade,
    rounded_index,
    viscosity_index,
    viscosity_of,
    walther_line,
    z_of,
)

PUBLISHED = Path(__file__).parent / "published"
ENTRIES = {entry["id"]: entry for entry in json.loads((PUBLISHED / "viscosity.json").read_text(encoding="utf-8"))}
GRADES = json.loads((PUBLISHED / "iso3448.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", [name for name in ENTRIES if name.startswith("vi_")])
def test_viscosity_index_of_the_standards_examples(name):
    expected = ENTRIES[name]["expected"]
    found = viscosity_index(expected["kv40"], expected["kv100"])
    assert rounded_index(found) == expected["vi_rounded"]
    assert found == pytest.approx(expected["vi"], abs=ENTRIES[name]["tolerance"]["vi"])
    assert basis(expected["kv100"]) == pytest.approx((expected["L"], expected["H"]), rel=1e-9)


def test_formulas_of_the_index_meet_the_table_where_they_take_over():
    """Above 70 mm2/s: L = 0.8353 Y^2 + 14.67 Y - 216, H = 0.1684 Y^2 + 11.85 Y - 97 (D2270, from memory)."""
    assert basis(70.0) == (4905.0, 1558.0)
    assert basis(70.0 + 1e-9) == pytest.approx(basis(70.0), rel=1e-3)


@pytest.mark.parametrize(("variant", "kelvin"), [("offset273", 273.0), ("offset273_15", 273.15)])
def test_viscosity_at_any_temperature(variant, kelvin):
    expected = ENTRIES["d341"]["expected"][variant]
    tolerance = ENTRIES["d341"]["tolerance"]
    line = walther_line(32.0, 5.4, kelvin=kelvin)
    assert (line.intercept, line.slope) == pytest.approx((expected["A"], expected["B"]), abs=tolerance["A,B"])
    # viscosity_at works with 273.15; the old offset moves the answer by far less than the tolerance
    assert line.viscosity_at(80.0 + kelvin - 273.15) == pytest.approx(expected["v80"], abs=tolerance["v80"])


def test_low_viscosity_terms():
    expected = ENTRIES["d341_low"]["expected"]
    assert [z_of(value) for value in expected["v"]] == pytest.approx(expected["Z"], abs=1e-9)
    assert [viscosity_of(z) for z in expected["Z"]] == pytest.approx(expected["v_back"], abs=1e-9)


def test_iso_3448_grades_and_limits():
    assert [grade_name(middle) for middle in ISO_GRADES] == [f"VG {grade['vg']}" for grade in GRADES]
    for middle, grade in zip(ISO_GRADES, GRADES, strict=True):
        assert middle == grade["mid"]
        assert grade_limits(middle) == pytest.approx((grade["min"], grade["max"]), abs=1e-9)
        for edge in (grade["min"], grade["mid"], grade["max"]):
            assert iso_grade(edge) == f"VG {grade['vg']}"
