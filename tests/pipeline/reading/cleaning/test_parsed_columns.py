"""Distinct texts of a column, what was read from them spread over its rows, the shop's words, and bounds of names."""

from datetime import date

import polars as pl
from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.reading.cleaning.headers import MatchedTable
from draincurve.pipeline.reading.cleaning.parsed_columns import LONGEST_NAME, distinct_texts, parsed_columns
from draincurve.schemas.settings import Settings

CELLS = st.lists(st.one_of(st.none(), st.sampled_from(["", " ", "a", "b", "ä", "12,5", "a b"])), max_size=40)


@given(CELLS, st.sampled_from([pl.String, pl.Categorical]))
def test_texts_and_positions_are_the_column(cells, kind):
    texts, positions = distinct_texts(pl.Series(cells, dtype=pl.String).cast(kind))
    assert [texts[position] for position in positions] == cells
    assert texts.to_list() == list(dict.fromkeys(cells))


def typed(column: str, *cells: str | None, settings: Settings | None = None) -> tuple[list, list[tuple]]:
    rows = pl.Series("_row", range(len(cells)), dtype=pl.UInt32)
    frame = pl.DataFrame([rows, rows.alias("_line"), pl.Series(column, cells, dtype=pl.String)])
    table = MatchedTable("drains", frame, {column: column}, {}, {}, pl.DataFrame())
    values, findings = parsed_columns(table, settings or Settings(), as_of=date(2026, 6, 20))
    found = pl.concat(findings).select("row", "kind", "proposal").rows() if findings else []
    return values.get_column(column).to_list(), found


def test_a_name_over_its_bound_or_with_a_line_break_is_held_back():
    longest, broken = "x" * LONGEST_NAME, "Br\nask"
    values, found = typed("rider", longest, longest + "x", broken, "Brask\n")
    assert values == [longest, None, None, "Brask"]
    assert found == [(1, "held back", None), (2, "held back", "Br ask")]
    assert typed("note", broken, longest * 2) == (["Br ask", longest * 2], [])


def test_the_shops_words_are_read_as_the_settings_say():
    settings = Settings(words={"rider": {"b.": "Brask", "nobody": ""}, "leak": {"drops": "yes"}})
    values, found = typed("rider", "B", "b.", "Tevik", "Nobody", settings=settings)
    assert values == ["Brask", "Brask", "Tevik", None]
    assert [kind for _, kind, _ in found] == ["note"] * 3
    assert typed("leak", "Drops", "no", settings=settings)[0] == [True, False]
    assert typed("leak", "Drops")[1] == [(0, "held back", None)]


def test_pints_may_be_of_two_sizes_and_are_not_known(check) -> None:
    log = check({"filled_ml": "0.7 pt", "drained_ml": "340"}, {"filled_ml": "350", "drained_on": "2026-04-04"})
    assert log.accepted["drains"].sort("line")["filled_ml"].to_list() == [None, 350.0]
    assert log.asked.filter(column="filled_ml")["message"][0].startswith("pints and quarts may be US or imperial")
