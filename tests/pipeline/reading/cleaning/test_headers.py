"""Headers as shops write them."""

import polars as pl
import pytest

from draincurve.pipeline.reading.cleaning.header_synonyms import COLUMNS_OF_HEADER
from draincurve.pipeline.reading.cleaning.headers import header_positions, matched_table
from draincurve.pipeline.reading.sources.source_table import SourceTable
from draincurve.schemas.errors import SourceError

NEEDED = ("unit_id", "drained_on", "oil_hours", "oil_grade", "colour_rating", "spring_type", "rider")


def source(*headers: str, table: str = "drains") -> SourceTable:
    return SourceTable(table, "log.csv", "", pl.DataFrame({name: ["x"] for name in headers} | {"_line": [2]}))


def test_two_headers_for_one_column_are_refused() -> None:
    with pytest.raises(SourceError, match=r"'fork', 'Leg' all mean unit_id.* \[headers\] unit_id = \[\"fork\"\]"):
        matched_table(source("fork", "Leg", *NEEDED[1:]))


def test_the_settings_say_which_of_two_headers_it_is() -> None:
    table = matched_table(source("fork", "Leg", *NEEDED[1:]), {"unit_id": ["Leg"]})
    assert table.columns["Leg"] == "unit_id"
    assert table.findings.select("value", "kind", "message").rows() == [
        ("fork", "note", "column 'fork' is not used: 'Leg' is unit_id by the settings")
    ]


def test_the_settings_give_headers_that_no_list_has_and_come_before_the_contracts_own() -> None:
    table = matched_table(
        source("Bein", *NEEDED[1:2], "Hours (min)", *NEEDED[3:]),
        {
            "unit_id": ["Stange", "Bein"],
            "meter_hours": ["hours"],
        },
    )
    assert (table.columns["Bein"], table.columns["Hours (min)"]) == ("unit_id", "meter_hours")
    assert table.units == {"meter_hours": "min"}
    swapped = matched_table(source(*NEEDED, "hours"), {"oil_hours": ["hours"], "meter_hours": ["oil_hours"]})
    assert (swapped.columns["hours"], swapped.columns["oil_hours"]) == ("oil_hours", "meter_hours")


def test_a_synonym_of_two_columns_is_asked_about_or_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    known = {**COLUMNS_OF_HEADER["drains"], "smell": ("colour_rating", "burnt")}
    monkeypatch.setitem(COLUMNS_OF_HEADER, "drains", known)
    with pytest.raises(SourceError, match=r"may be colour_rating or burnt; .*colour_rating = .\"Smell"):
        matched_table(source(*NEEDED[:4], "debris_rating", *NEEDED[5:], "Smell"))
    table = matched_table(source(*NEEDED, "Smell"))
    assert table.columns["Smell"] == "burnt"
    asked = table.findings.row(0, named=True)
    assert (asked["kind"], asked["setting"]) == ("asked", '[headers]\nburnt = ["Smell"]')
    given = matched_table(source(*NEEDED, "Smell"), {"burnt": ["Smell"]})
    assert given.findings.height == 0


def test_free_text_under_two_headers_is_joined() -> None:
    headers = (*NEEDED, "Remarks", "Comment")
    frame = pl.DataFrame(
        {name: ["x", None] for name in NEEDED} | {"Remarks": ["wet", None], "Comment": ["seal", None]}
    )
    table = matched_table(
        SourceTable("drains", "log.csv", "", frame.with_columns(_line=pl.Series([2, 3])), (), headers)
    )
    assert table.frame["note"].to_list() == ["wet; seal", None]
    assert "are joined" in table.findings["message"][0]


def test_positions_are_those_of_the_columns_that_are_read() -> None:
    assert header_positions(["note", "Gabel", "Stunden"], "drains") == {"unit_id": 1, "oil_hours": 2, "note": 0}


def test_the_contracts_own_word_wins_over_a_synonym_and_the_other_is_named() -> None:
    table = matched_table(source(*NEEDED, "oil"))
    assert "oil" not in table.frame.columns
    asked = table.findings.filter(pl.col("value") == "oil").row(0, named=True)
    assert (asked["kind"], asked["setting"]) == ("asked", '[headers]\noil_grade = ["oil_grade"]')
    assert matched_table(source(*NEEDED, "oil"), {"oil_grade": ["oil_grade"]}).findings["kind"].to_list() == ["note"]


@pytest.mark.parametrize("missing", NEEDED)
def test_a_missing_column_is_named_with_what_was_found(missing: str) -> None:
    headers = [name for name in NEEDED if name != missing]
    with pytest.raises(SourceError, match=rf"log.csv: table drains: column {missing}.* missing; found the headers '"):
        matched_table(source(*headers))


@pytest.mark.parametrize(
    ("missing", "there", "cell"),
    [
        ("drained_on", "Abgabe", "2026-03-04"),
        ("drained_on", "Draned onn", "?"),
        ("drained_on", "Drained", "2026-03-04"),
        ("unit_id", "Front fork leg", "F01"),
        ("colour_rating", "Look", "3"),
        ("rider", "Ridr", "Brask"),
    ],
)
def test_a_missing_column_names_the_likeliest_header_and_what_to_write(missing: str, there: str, cell: str) -> None:
    cells = {there if name == missing else name: [cell if name == missing else "x"] for name in NEEDED}
    frame = pl.DataFrame(cells | {"_line": [2], "other": ["what"]})
    with pytest.raises(SourceError) as refused:
        matched_table(SourceTable("drains", "log.csv", "", frame))
    assert f"(is it '{there}'? then write in the settings [headers] {missing} = [\"{there}\"])" in str(refused.value)


def test_dates_below_a_word_for_a_volume_are_not_read_as_one() -> None:
    frame = pl.DataFrame({name: ["x"] for name in NEEDED} | {"_line": [2], "drained": ["2026-03-04"]})
    table = matched_table(SourceTable("drains", "log.csv", "", frame))
    assert "drained_ml" not in table.frame.columns
    assert matched_table(source(*NEEDED, "drained")).columns["drained"] == "drained_ml"


@pytest.mark.parametrize("table", ["usage", "bookings"])
def test_hours_may_be_blank_but_their_column_must_be_there(table: str) -> None:
    with pytest.raises(SourceError, match=f"table {table}: column hours missing"):
        matched_table(source("unit_id", "date", table=table))


def test_unknown_columns_are_named() -> None:
    table = matched_table(source(*NEEDED, "air gap mm"))
    assert "air gap mm" not in table.frame.columns
    assert table.findings["message"].to_list() == ["column 'air gap mm' is not known and is not used"]
    assert table.findings["kind"].to_list() == ["note"]


def test_an_unknown_column_that_is_like_a_known_one_is_asked_about() -> None:
    asked = matched_table(source(*NEEDED, "Settling tme")).findings.row(0, named=True)
    assert asked["message"] == "column 'Settling tme' is not known and is not used: is it settle_hours?"
    assert (asked["kind"], asked["setting"]) == ("asked", '[headers]\nsettle_hours = ["Settling tme"]')


def test_very_many_unknown_columns_are_counted() -> None:
    findings = matched_table(source(*NEEDED, *(f"q{number}" for number in range(300)))).findings
    assert findings.height == 51
    assert findings["message"][-1] == "250 more columns are not known and are not used"


def test_a_volume_header_without_unit_is_noted() -> None:
    messages = matched_table(source(*NEEDED, "filled")).findings["message"].to_list()
    assert messages == ["header 'filled' names no unit: cells without one are read as ml"]


def test_of_many_headers_an_error_names_the_first_and_counts_the_others() -> None:
    headers = ["x" * 500, *(f"c{number}" for number in range(300))]
    with pytest.raises(SourceError) as refused:
        matched_table(source(*headers))
    assert f"'{'x' * 40}…', 'c0', " in str(refused.value)
    assert "'c10' and 289 more" in str(refused.value)
    assert len(str(refused.value)) < 600


def test_a_missing_column_that_nothing_is_like_is_left_for_the_shop_to_name() -> None:
    with pytest.raises(SourceError) as refused:
        matched_table(source(*NEEDED[:-1], "Wer", "Heat"))
    assert refused.value.setting == '[headers]\n# rider = ["..."]  # your own header for it'


def test_an_unknown_column_of_ratings_is_asked_about_where_a_channel_has_none() -> None:
    def asked(*headers: str) -> list[tuple[str, ...]]:
        frame = pl.DataFrame({name: ["3"] if name == "Bits" else ["x"] for name in headers} | {"_line": [2]})
        findings = matched_table(SourceTable("drains", "log.csv", "", frame)).findings
        return findings.filter(pl.col("kind") == "asked").select("column", "value", "setting").rows()

    assert asked(*NEEDED, "Bits") == [("debris_rating", "Bits", '[headers]\ndebris_rating = ["Bits"]')]
    assert asked(*NEEDED, "debris_rating", "Bits") == []


def refusal(*headers: str, **cells: list[str]) -> str:
    columns = {name: cells.get(name, ["x", "y"]) for name in headers}
    frame = pl.DataFrame(columns | {"_line": [2, 3]})
    with pytest.raises(SourceError) as refused:
        matched_table(SourceTable("drains", "log.csv", "", frame))
    return str(refused.value)


def test_a_header_of_two_columns_is_proposed_for_neither() -> None:
    said = refusal(*NEEDED[:4], "Colour/Debris", *NEEDED[5:])
    assert "is it" not in said
    assert "'Colour/Debris' names two columns: give each a column of its own" in said


def test_a_header_that_fits_several_missing_columns_is_proposed_for_none() -> None:
    said = refusal("Unit Date Hours Oil Colour Spring Rider", "Note")
    assert "is it" not in said


def test_a_long_text_is_no_header_to_propose() -> None:
    assert "is it" not in refusal(*NEEDED[:4], "and then the colour was about 3 I would say", *NEEDED[5:])


def test_a_turned_table_says_so() -> None:
    rows = ["Date", "Hours", "Oil", "Colour", "Spring", "Rider"]
    frame = pl.DataFrame({"Unit": rows, "F01": ["x"] * 6, "F02": ["x"] * 6, "_line": list(range(2, 8))})
    with pytest.raises(SourceError, match="turn the table, so that each drain is a row"):
        matched_table(SourceTable("drains", "log.csv", "", frame))


def test_two_tables_side_by_side_say_so() -> None:
    headers = (*NEEDED, *NEEDED)
    frame = pl.DataFrame({f"c{at}": ["x"] for at in range(len(headers))} | {"_line": [2]})
    with pytest.raises(SourceError, match="do two tables stand side by side"):
        matched_table(SourceTable("drains", "log.csv", "", frame, (), headers))


def test_headers_that_are_as_likely_are_all_named() -> None:
    said = refusal(*NEEDED[:5], "Spring before", "Spring after", "rider")
    assert "(is it 'Spring before' or 'Spring after'? then write" in said


def test_blocks_below_the_name_of_a_unit_say_so() -> None:
    frame = pl.DataFrame(
        {name: [None, "x", None, "x"] for name in NEEDED[2:]}
        | {"drained_on": ["F01", "2026-03-04", "F02", "2026-03-05"], "_line": [2, 3, 4, 5]}
    )
    with pytest.raises(SourceError, match="if lines with one cell name the unit of the rows below"):
        matched_table(SourceTable("drains", "log.csv", "", frame))


def test_a_unit_may_be_the_machine_or_the_one_column_that_is_not_known() -> None:
    others = NEEDED[1:]
    assert "(is it 'machine'? then write" in refusal("machine", *others)
    assert "(is it 'Which one'? then write" in refusal("Which one", *others)
    assert "(is it 'machine' or 'Which one'? then write" in refusal("machine", "Which one", *others)
