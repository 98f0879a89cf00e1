"""Whatever people type: no traceback, no lost row, and no dependence on the order of rows."""

from datetime import date

import polars as pl
from deep_runs import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from draincurve.pipeline.reading.sources.source_table import SourceTable
from draincurve.pipeline.reading.validating.checked_log import Log, check_log
from draincurve.schemas.columns import TABLES
from draincurve.schemas.errors import DraincurveError
from draincurve.schemas.settings import Settings

TODAY = date(2026, 11, 25)
Rows = list[dict[str, str | None]]

typed = {
    "unit_id": ["F07", "f-07", "F08", "07 front", "F7", "", None, "x" * 70],
    "drained_on": ["2026-03-04", "3/4/26", "13/4/26", "4/13/26", "2030-01-01", "1960-01-01", "46085", "soon", None],
    "oil_hours": ["12", "12,5", "90 min", "1h30", "~15", "0", "-3", "2500", "12 oz", "1,234", "abc", None],
    "meter_hours": ["100", "112.5", "90", "-1", "1e9", None],
    "oil_grade": ["5W", "5 w", "10W", None],
    "filled_ml": ["480", "0.48 l", "12 oz", "110 mm", "6000", None],
    "drained_ml": ["470", "300", "620", "0", None],
    "settle_hours": ["10 min", "o/n", "week", "5000", None],
    "colour_rating": ["1", "2-3", "5", "0", "6", "grey", None],
    "debris_rating": ["1", "3", "2/3", "2.5", None],
    "spring_type": ["hard", "Hard", "soft", None],
    "rider": ["AB", "CD", None],
    "site": ["north", "south", None],
    "service_kind": ["oil", "top-up", "boil", None],
    "leak": ["yes", "no", "maybe", None],
}
anything = st.one_of(st.none(), st.text(max_size=10), st.floats().map(str), st.integers().map(str))


def table_of(rows: Rows, table: str = "drains") -> SourceTable:
    names = [column.name for column in TABLES[table]]
    cells = {name: pl.Series([row.get(name) for row in rows], dtype=pl.String) for name in names}
    lines = pl.Series(range(2, len(rows) + 2), dtype=pl.Int64)
    return SourceTable(table, "log.csv", "", pl.DataFrame(cells | {"_line": lines}))


def likely_rows(least: int = 1) -> st.SearchStrategy[Rows]:
    """Many rows in few logs: a check costs the same for one row as for sixteen."""
    row = st.fixed_dictionaries({name: st.sampled_from(cells) for name, cells in typed.items()})
    return st.lists(row, min_size=least, max_size=16)


def adds_up(log: Log, rows: Rows) -> bool:
    accepted, held = [*log.accepted["drains"]["line"], *log.second_ratings["line"]], log.held_back["line"].to_list()
    return sorted([*accepted, *held]) == list(range(2, len(rows) + 2))


@settings(max_examples=examples(14), deadline=None)
@given(likely_rows())
def test_every_row_of_a_messy_log_ends_in_one_place(rows: Rows) -> None:
    log = check_log({"drains": table_of(rows)}, Settings(), as_of=TODAY)
    assert adds_up(log, rows)
    assert log.held_back["reason"].str.len_chars().min() != 0
    drains = log.accepted["drains"]
    assert drains["oil_hours"].drop_nulls().is_between(0, 2000, closed="right").all()
    assert drains.filter(pl.col("hours_basis").eq("unknown") & pl.col("oil_hours").is_not_null()).is_empty()
    assert drains.select(pl.struct("unit_key", "drained_on", "line")).to_series().is_sorted()


@settings(max_examples=examples(10), deadline=None)
@given(likely_rows(), st.sampled_from(["1", "2-3", "6"]))
def test_every_row_after_a_second_rating_ends_in_one_place(rows: Rows, rating: str) -> None:
    good = {name: cells[0] for name, cells in typed.items()} | {"rated_by": "KB"}
    rows = [good, good | {"rated_by": "TW", "colour_rating": rating}, *rows]
    log = check_log({"drains": table_of(rows)}, Settings(), as_of=TODAY)
    assert adds_up(log, rows)
    assert log.accounts[0].read == log.accounts[0].accepted + log.accounts[0].held_back == len(rows)


@settings(max_examples=examples(12), deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(list(TABLES)), st.data())
def test_any_text_whatever_gives_an_answer_or_a_clear_error(table: str, data: st.DataObject) -> None:
    names = [column.name for column in TABLES[table]]
    rows = data.draw(st.lists(st.fixed_dictionaries(dict.fromkeys(names, anything)), max_size=4))
    tables = {"drains": table_of([]), table: table_of(rows, table)}
    try:
        log = check_log(tables, Settings(), as_of=TODAY)
    except DraincurveError as fault:
        assert type(fault).__name__ == "SourceError"  # noqa: PT017
        return
    counted = {account.table: account.read for account in log.accounts}
    assert counted[table] == len(rows)
    assert sum(account.accepted + account.held_back for account in log.accounts) == sum(counted.values())


@settings(max_examples=examples(6), deadline=None)
@given(likely_rows(2), st.randoms(use_true_random=False))
def test_the_order_of_rows_decides_nothing(rows: Rows, random: object) -> None:
    """The same rows in another order give the same accepted drains; only which copy is kept may change."""
    shuffled = list(rows)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    # spellings are shown as first seen where two are equally common, so they are compared by count alone
    facts = ("drained_on", "oil_hours", "hours_basis", "filled_ml", "drained_ml", "colour_low", "debris_high", "leak")
    one, other = (
        check_log({"drains": table_of(given_rows)}, Settings(), as_of=TODAY)
        .accepted["drains"]
        .select(facts)
        .sort(facts)
        for given_rows in (rows, shuffled)
    )
    assert one.equals(other)


@settings(max_examples=examples(2), deadline=None)
@given(likely_rows())
def test_a_second_run_gives_the_same(rows: Rows) -> None:
    first, second = (check_log({"drains": table_of(rows)}, Settings(), as_of=TODAY) for _ in range(2))
    assert first.accepted["drains"].equals(second.accepted["drains"])
    assert first.held_back.equals(second.held_back)
    assert first.remarks.equals(second.remarks)
