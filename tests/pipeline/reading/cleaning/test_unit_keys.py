"""One name, one unit, unless two sites use it at once."""

import polars as pl


def test_variants_in_all_tables_are_one_unit(check, messages) -> None:
    log = check(
        {"unit_id": "F07"},
        {"unit_id": "f-07", "drained_on": "2026-04-04"},
        {"unit_id": "F07", "drained_on": "2026-05-04"},
        units=[{"unit_id": "f 07", "max_interval_h": "20"}],
        usage=[{"unit_id": "f07", "date": "2026-05-05", "hours": "2"}],
        bookings=[{"unit_id": "F-07", "date": "2026-12-05", "hours": "2"}],
    )
    for table in log.accepted.values():
        assert table["unit_key"].unique().to_list() == ["F07"]
    variants = [text for text in messages(log, "unit_id") if "are taken as one: 'F07'" in text]
    assert len(variants) == 1
    assert "'f-07'" in variants[0]


def test_near_names_are_asked_about_and_kept_apart(check, messages) -> None:
    log = check({"unit_id": "F07"}, {"unit_id": "F7", "drained_on": "2026-04-04"})
    assert sorted(log.accepted["drains"]["unit_key"]) == ["F07", "F7"]
    assert any("are 'F07' and 'F7' one?" in text or "are 'F7' and 'F07' one?" in text for text in messages(log))


def test_two_sites_over_the_same_days_are_two_units(check, messages) -> None:
    log = check(
        {"site": "north", "drained_on": "2026-01-01"},
        {"site": "south", "drained_on": "2026-02-01"},
        {"site": "north", "drained_on": "2026-03-01"},
        {"site": None, "drained_on": "2026-04-01"},
        usage=[{"unit_id": "F07", "site": "South", "date": "2026-05-05", "hours": "2"}],
    )
    assert log.accepted["drains"]["unit_key"].unique().sort().to_list() == ["F07 @ north", "F07 @ south"]
    assert log.accepted["usage"]["unit_key"].to_list() == ["F07 @ south"]
    assert log.held_back.select("line", "column").rows() == [(5, "site")]
    assert any("taken as several units" in text for text in messages(log, "unit_id"))


def test_a_unit_that_moved_once_is_one_unit(check) -> None:
    log = check({"site": "north", "drained_on": "2026-01-01"}, {"site": "south", "drained_on": "2026-02-01"})
    assert log.accepted["drains"]["unit_key"].to_list() == ["F07", "F07"]


def test_the_register_may_tell_two_units_apart(check) -> None:
    log = check(
        {"site": "north"},
        units=[{"unit_id": "F07", "site": "north"}, {"unit_id": "f07", "site": "south"}],
    )
    assert log.accepted["drains"]["unit_key"].to_list() == ["F07 @ north"]
    assert log.accepted["units"]["unit_key"].to_list() == ["F07 @ north", "F07 @ south"]


def test_a_blank_site_takes_the_only_known_one(check) -> None:
    log = check(
        {"site": None}, {"site": "north", "drained_on": "2026-04-04"}, units=[{"unit_id": "F07", "site": None}]
    )
    assert log.accepted["drains"]["site"].to_list() == ["north", "north"]
    assert log.accepted["units"].select(pl.col("site")).item() == "north"
