"""Names that mislead, and what the catalogue says of each oil."""

import polars as pl
import pytest

from draincurve.pipeline.describing.oil_catalogue import missing_grades, oil_catalogue
from draincurve.pipeline.describing.oil_labels import label_number, shared_labels

SCHEMA = {"oil_grade": pl.String, "kv40": pl.Float64, "kv100": pl.Float64, "note": pl.String}


def oils(*rows):
    return pl.DataFrame(rows, schema=SCHEMA, orient="row")


@pytest.mark.parametrize(
    ("name", "number"),
    [
        ("Fork 5", "5"), ("5W", "5"), ("SAE 5", "5"), ("5 wt", "5"), ("Amber 05", "5"), ("Fork 7,5", "7.5"),
        ("10W-40", "10W-40"), ("10w 40", "10W-40"), ("ISO VG 15", "VG 15"), ("batch 12 SAE 5", "5"),
        ("Batch 12 red 5", None), ("Red", None),
    ],
)  # fmt: skip
def test_the_number_in_a_name(name, number):
    assert label_number(name) == number


def test_one_label_two_oils():
    found = shared_labels([("Fork 5", 15.2), ("5W", 26.7), ("SAE 5", 20.0), ("Fork 7", 30.0), ("7 wt", 35.9)])
    assert [(item.number, item.thinnest, item.thickest) for item in found] == [("5", "Fork 5", "5W")]
    assert found[0].ratio == pytest.approx(26.7 / 15.2)


def test_a_fifth_is_not_yet_pointed_out():
    assert shared_labels([("Fork 5", 20.0), ("5W", 24.0)]) == ()
    assert len(shared_labels([("Fork 5", 20.0), ("5W", 24.1)])) == 1


def test_the_catalogue_is_in_order_and_says_what_it_does_not_know():
    result = oil_catalogue(
        oils(
            ("Unknown", None, None, None),
            ("Fork 7", 32.0, 5.4, "as bought"),
            ("Half", 22.0, None, None),
            ("Thin 5", 5.0, 1.9, None),
            ("Thick 5", 22.83, 5.05, None),
        ),
        celsius=80.0,
    )
    by_name = {grade.oil_grade: grade for grade in result.grades}
    assert list(by_name) == ["Thin 5", "Half", "Thick 5", "Fork 7", "Unknown"]
    assert by_name["Thick 5"].viscosity_index == 156  # ASTM D2270, example of procedure B
    assert by_name["Fork 7"].kv_asked == pytest.approx(8.5332, abs=1e-3)  # ASTM D341, see tests/outside
    assert by_name["Fork 7"].iso_grade == "VG 32"
    assert by_name["Fork 7"].notes == ("as bought",)
    assert (by_name["Half"].viscosity_index, by_name["Half"].kv_cold, by_name["Half"].iso_grade) == (
        None,
        None,
        "VG 22",
    )
    assert "only its viscosity at 40 C" in by_name["Half"].notes[0]
    assert by_name["Unknown"].iso_grade == ""
    assert "no viscosity is known" in by_name["Unknown"].notes[0]
    assert by_name["Thin 5"].viscosity_index is None
    assert "no viscosity index" in by_name["Thin 5"].notes[0]
    assert "though both are called 5" in by_name["Thin 5"].notes[1]
    assert "though both are called 5" in by_name["Thick 5"].notes[0]


def test_grades_that_the_catalogue_lacks():
    result = oil_catalogue(oils(("Fork 5", 20.0, 4.0, None)))
    drains = pl.DataFrame({"oil_grade": ["Fork 7", "Fork 5", None, "Fork 7"]})
    assert missing_grades(result, drains) == ("Fork 7",)


def test_an_empty_catalogue():
    assert oil_catalogue(oils()).grades == ()
