"""Which rows are oil changes: all but top-ups, also where nobody wrote the kind of service."""

from __future__ import annotations

import polars as pl

from draincurve.schemas.service_kinds import is_oil_change, is_top_up

KINDS = ["oil", "rebuild", "top-up", None]


def test_a_row_is_an_oil_change_or_a_top_up_and_without_a_kind_it_is_an_oil_change() -> None:
    for kinds in (pl.Series(KINDS), pl.Series(KINDS, dtype=pl.Categorical)):
        rows = pl.DataFrame({"service_kind": kinds}).select(
            is_oil_change().alias("change"), is_top_up().alias("top_up")
        )
        assert rows["change"].to_list() == [True, True, False, True]
        assert rows["top_up"].to_list() == [False, False, True, False]
