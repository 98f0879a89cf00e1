"""What is asked about is unknown to the models."""

import polars as pl

from draincurve.pipeline.describing.asked_values import known_drains

ROWS = {"unit_key": ["F1", "F1", "F2"], "oil_hours": [12.0, 750.0, 11.0]}


def test_hours_in_question_are_unknown_and_the_drain_remains() -> None:
    drains = pl.DataFrame(ROWS | {"hours_in_question": [False, True, False]})
    known = known_drains(drains)
    assert known["oil_hours"].to_list() == [12.0, None, 11.0]
    assert known["unit_key"].to_list() == ROWS["unit_key"]


def test_nothing_is_copied_where_nothing_is_asked() -> None:
    for drains in (pl.DataFrame(ROWS), pl.DataFrame(ROWS | {"hours_in_question": [False] * 3})):
        assert known_drains(drains) is drains
