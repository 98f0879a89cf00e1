"""Kinds of service: which drains are oil changes, and which are top-ups, after which the same oil runs on."""

from __future__ import annotations

import polars as pl

from draincurve.schemas.columns import TOP_UP


def is_oil_change() -> pl.Expr:
    """Whether a row of drains is an oil change, from its column service_kind; without a kind of service it is one.

    >>> pl.DataFrame({"service_kind": ["oil", "top-up", None]}).select(is_oil_change())["service_kind"].to_list()
    [True, False, True]
    """
    return (pl.col("service_kind") != TOP_UP).fill_null(True)


def is_top_up() -> pl.Expr:
    """Whether a row of drains is a top-up, from its column service_kind.

    >>> pl.DataFrame({"service_kind": ["oil", "top-up", None]}).select(is_top_up())["service_kind"].to_list()
    [False, True, False]
    """
    return ~is_oil_change()
