"""Cells that hold a number: units, marks and approximate values."""

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.reading.cleaning.numbers import DecimalMarks
from draincurve.pipeline.reading.cleaning.quantity_cells import read_quantities
from draincurve.pipeline.reading.cleaning.units_of_measurement import TARGETS
from draincurve.schemas.columns import Kind


def one(text: str, kind: Kind, unit: str | None = None) -> dict[str, object]:
    read = read_quantities(pl.Series([text]), kind, column_unit=unit, file_marks=DecimalMarks())
    return read.row(0, named=True)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("90 min", "run hours", 1.5),
        ("1h30", "run hours", 1.5),
        ("41h30", "run hours", 41.5),
        ("1 h 30 min", "run hours", 1.5),
        ("1:30", "run hours", 1.5),
        ("41,5", "run hours", 41.5),
        ("41,5 h", "run hours", 41.5),
        ("1900-01-01 17:30:00", "run hours", 41.5),
        ("1899-12-31 01:30:00", "run hours", 1.5),
        ("0 days 12:30:00", "run hours", 12.5),
        ("1 day, 2:30:00", "run hours", 26.5),
        ("2 days 00:15:00.000000", "settling time", 48.25),
        ("PT12H30M", "run hours", 12.5),
        ("PT750M", "run hours", 12.5),
        ("P1DT2H", "run hours", 26.0),
        ("PT45000S", "run hours", 12.5),
        ("10 min", "settling time", 1 / 6),
        ("o/n", "settling time", 12.0),
        ("week", "settling time", 168.0),
        ("2 weeks", "settling time", 336.0),
        ("3 d", "settling time", 72.0),
        ("0.35 l", "volume", 350.0),
        ("350 cc", "volume", 350.0),
        ("350 CC", "volume", 350.0),
        ("350cm³", "volume", 350.0),
        ("480ML", "volume", 480.0),
        ("8,5 cl", "volume", 85.0),
        ("12 mm²/s", "viscosity", 12.0),
        ("12 cSt", "viscosity", 12.0),
        ("2 weeks", "oil age", 14.0),
        ("-3", "run hours", -3.0),
        ("1e3", "run hours", 1000.0),
    ],
)
def test_what_the_bench_types(text: str, kind: Kind, value: float) -> None:
    read = one(text, kind)
    assert read["reason"] is None
    assert read["value"] == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize("text", ["P", "PT", "P1DT", "1 day, 2:75:00", "PT1.5", "P2M"])
def test_no_duration(text: str) -> None:
    assert one(text, "run hours")["value"] is None


@pytest.mark.parametrize("text", ["8.5 fl oz", "8.5 oz", "8.5floz", "8.5 FL. OZ."])
def test_ounces_in_a_volume_are_us_fluid_ounces(text: str) -> None:
    """1 US fluid ounce is 29.5735295625 ml exactly: 231 cubic inches / 128 (NIST Handbook 44, appendix C)."""
    assert one(text, "volume")["value"] == pytest.approx(8.5 * 29.5735295625, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "kind", "reason"),
    [
        ("110 mm", "volume", "'mm' is not a volume"),
        ("5W", "volume", "'W' is not a volume"),
        ("12 oz", "run hours", "'oz' is not hours run"),
        ("2 days", "run hours", "'days' does not say hours run"),
        ("12 parsecs", "run hours", "unit 'parsecs' is not known"),
        ("10-12", "run hours", "is not one value"),
        ("10 to 12 h", "run hours", "is not one value"),
        ("1h75", "run hours", "more than 59 minutes"),
        ("abc", "run hours", "is not a number: write it such as 12.5"),
        ("inf", "volume", "is not a number: write it such as 12.5"),
        ("1e999", "volume", "is not a number: write it such as 12.5"),
        ("9" * 400, "volume", "is not a number: write it such as 12.5"),
        ("<5", "run hours", "is not a number: write it such as 12.5"),
        ("12 mm", "number", "put its unit in the column for units"),
    ],
)
def test_what_does_not_fit_has_a_reason(text: str, kind: Kind, reason: str) -> None:
    read = one(text, kind)
    assert read["value"] is None
    assert reason in str(read["reason"])


@pytest.mark.parametrize("text", ["~15", "15?", "ca. 15", "about 15", "≈15"])
def test_approximate_values_are_kept_with_a_note(text: str) -> None:
    read = one(text, "run hours")
    assert read["value"] == 15.0
    assert "approximate" in str(read["note"])


@pytest.mark.parametrize("text", ["", " ", "-", "–", "?", "n/a", "NaN", "none"])
def test_nothing_known_is_null_without_reason(text: str) -> None:
    assert one(text, "run hours") == dict.fromkeys(("value", "unit", "reason", "note", "proposal"))


def test_the_headers_unit_counts_where_the_cell_has_none() -> None:
    texts = pl.Series(["90", "1.5 h", "90 min", None, "1h30"])
    read = read_quantities(texts, "run hours", column_unit="min", file_marks=DecimalMarks())
    assert read["value"].to_list() == [1.5, 1.5, 1.5, None, 1.5]


@given(st.lists(st.one_of(st.none(), st.text(max_size=12)), max_size=8), st.sampled_from([*TARGETS, "number"]))
def test_any_text_gives_a_finite_value_or_a_reason_or_nothing(texts: list[str | None], kind: Kind) -> None:
    read = read_quantities(pl.Series(texts, dtype=pl.String), kind, column_unit=None, file_marks=DecimalMarks())
    assert read.height == len(texts)
    assert read["value"].drop_nulls().is_finite().all()
    assert read.filter(pl.col("value").is_not_null() & pl.col("reason").is_not_null()).is_empty()


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        *(("12½", 12.5), ("12 ½ h", 12.5), ("½ h", 0.5), ("12 1/2", 12.5), ("3/4 h", 0.75), ("12¼", 12.25)),
        *(("12'30", 12.5), ("12’30", 12.5), ("12'05", 12 + 5 / 60), ("1 Std 30", 1.5), ("1 Std. 30 Min.", 1.5)),
        *(("1 heure 30", 1.5), ("2 ore 15", 2.25), ("2 horas 15", 2.25), ("90 minuti", 1.5), ("3 Stunden", 3.0)),
        *(("8+4", 12.0), ("8 + 4.5", 12.5), ("8h + 4h30", 12.5), ("8 h + 30 min", 8.5), ("4+4+4,5", 12.5)),
    ],
)
def test_halves_sums_and_hours_with_minutes(text: str, hours: float) -> None:
    read = read_quantities(pl.Series([text]), "run hours", column_unit=None, file_marks=DecimalMarks())
    assert read["value"].to_list() == [pytest.approx(hours)]
    assert read["reason"].to_list() == [None]
    assert ("sum" in str(read["note"][0])) == ("+" in text)


@pytest.mark.parametrize(
    ("text", "kind", "reason"),
    [
        ("1/2", "run hours", "is not one value"),
        ("12'30\"", "run hours", "may be minutes and seconds"),
        ("12'75", "run hours", "more than 59 minutes"),
        ("10'30", "settling time", "may be minutes and seconds"),
        ("8+x", "run hours", "is not known"),
        ("8+4 ml", "run hours", "write the sum"),
        ("8+", "run hours", "is not known"),
        ("1+1", "number", "is not a number"),
    ],
)
def test_what_may_be_two_things_is_held_back(text: str, kind: Kind, reason: str) -> None:
    read = read_quantities(pl.Series([text]), kind, column_unit=None, file_marks=DecimalMarks())
    assert read["value"].to_list() == [None]
    assert reason in read["reason"][0]


def test_a_sum_is_in_the_columns_unit_or_in_that_of_its_parts() -> None:
    def total(text: str, unit: str | None, kind: Kind) -> float:
        return read_quantities(pl.Series([text]), kind, column_unit=unit, file_marks=DecimalMarks())["value"][0]

    assert total("480+240", "min", "run hours") == pytest.approx(12.0)
    assert total("12'30", "min", "run hours") is None, "it may be minutes and seconds there"
    assert total("300+220", None, "volume") == pytest.approx(520.0)
    assert total("0.3 l + 220 ml", None, "volume") == pytest.approx(520.0)
    assert total("500 ml + 20", "l", "volume") == pytest.approx(520.0)


@pytest.mark.parametrize("text", ["über Nacht", "une nuit", "noche", "notte", "o/n"])
def test_overnight_in_five_languages(text: str) -> None:
    read = read_quantities(pl.Series([text]), "settling time", column_unit=None, file_marks=DecimalMarks())
    assert read["value"].to_list() == [12.0]


@pytest.mark.parametrize(
    ("text", "kind", "proposal"),
    [
        ("'3", "run hours", "3"),
        ("12.5 !", "run hours", "12.5"),
        ("`350 ml", "volume", "350 ml"),
        ("20 min*", "settling time", "20 min"),
        ("60%", "run hours", None),
        ("12,5/13", "run hours", None),
        ('"', "volume", None),
    ],
)
def test_a_number_with_a_mark_beside_it_is_proposed_alone(text: str, kind: Kind, proposal: str | None) -> None:
    read = one(text, kind)
    assert read["value"] is None
    assert read["reason"] is not None
    assert read["proposal"] == proposal


@pytest.mark.parametrize("text", ["12h5", "12:5", "12 h 5", "ca. 12h5"])
def test_one_digit_of_minutes_may_be_a_decimal(text: str) -> None:
    read = read_quantities(pl.Series([text]), "run hours", column_unit=None, file_marks=DecimalMarks())
    assert read["value"].to_list() == [None]
    assert "may be 12.08 h or 12.5 h" in read["reason"].item()


@pytest.mark.parametrize(
    ("text", "hours"), [("12h5min", 12 + 5 / 60), ("12:05", 12 + 5 / 60), ("12h50", 12 + 50 / 60)]
)
def test_minutes_that_are_named_or_have_two_digits_are_minutes(text: str, hours: float) -> None:
    read = read_quantities(pl.Series([text]), "run hours", column_unit=None, file_marks=DecimalMarks())
    assert read["value"].item() == pytest.approx(hours)


@pytest.mark.parametrize(
    "text", ["12.5 (est)", "12.5 h est.", "12.5 (?)", "12.5 h geschätzt", "12.5 (approx.)", "12.5h?"]
)
def test_words_for_rough_behind_a_number(text: str) -> None:
    read = one(text, "run hours")
    assert (read["value"], read["reason"]) == (12.5, None)
    assert read["note"].startswith(f"'{text}' is approximate")


@pytest.mark.parametrize(("text", "value"), [("2 x 6 h", 12.0), ("3x4", 12.0), ("2 × 6h30", 13.0), ("2x90 min", 3.0)])
def test_several_rides_of_one_length(text: str, value: float) -> None:
    read = one(text, "run hours")
    assert read["value"] == pytest.approx(value)
    assert "is read as the product" in read["note"]


@pytest.mark.parametrize("text", ["12.5 (was 11)", "11→12.5", "11 -> 12.5", "12 not 11", "12 bis 13"])
def test_two_numbers_of_which_one_is_meant(text: str) -> None:
    read = one(text, "run hours")
    assert (read["value"], read["reason"]) == (None, "is not one value: write a single number")


@pytest.mark.parametrize("text", ["immediately", "at once", "sofort"])
def test_oil_that_was_not_left_to_settle(text: str) -> None:
    assert one(text, "settling time")["value"] == 0.0
