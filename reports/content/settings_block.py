"""The settings that answer questions, as one block of lines to paste into the settings file."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from typing import Any

import polars as pl

from draincurve.pipeline.reading import Log
from draincurve.schemas.checked_settings import toml_key, toml_text

HOW_TO_USE = (
    "# Settings that would answer questions about this log. Check each line, leave out what is wrong,",
    "# paste the others into your settings file, and name the file with --settings.",
)
NO_SETTING = "# No setting would answer a question about this log."


def settings_block(log: Log) -> tuple[str, ...]:
    """Lines of one settings file with every setting that the findings propose; empty where they propose none.

    Where findings propose several values for one key, the first stays and the others are comments below it.
    """
    proposed = pl.concat([log.reasons, log.remarks]).get_column("setting").drop_nulls().unique(maintain_order=True)
    block: dict[str, Any] = {}
    others: dict[tuple[str, ...], list[Any]] = {}
    for text in proposed:
        _merge(block, tomllib.loads(text), path=(), others=others)
    return tuple(_lines(block, path=(), others=others))


def _merge(
    block: dict[str, Any],
    found: Mapping[str, Any],
    *,
    path: tuple[str, ...],
    others: dict[tuple[str, ...], list[Any]],
) -> None:
    """Adds the values that are new; lists of one key are joined."""
    for key, value in found.items():
        here = block.get(key)
        if isinstance(value, Mapping):
            _merge(block.setdefault(key, {}), value, path=(*path, key), others=others)
        elif here is None:
            block[key] = value
        elif isinstance(value, list) and isinstance(here, list):
            block[key] = [*here, *(item for item in value if item not in here)]
        elif value != here:
            others.setdefault((*path, key), []).append(value)


def _lines(
    block: Mapping[str, Any], *, path: tuple[str, ...], others: Mapping[tuple[str, ...], list[Any]]
) -> Iterator[str]:
    """The values of a table, then the tables in it."""
    values = {key: value for key, value in block.items() if not isinstance(value, Mapping)}
    if values and path:
        yield f"[{'.'.join(map(toml_key, path))}]"
    for key, value in values.items():
        yield f"{toml_key(key)} = {toml_text(value)}"
        for other in others.get((*path, key), ()):
            yield f"# or {toml_key(key)} = {toml_text(other)}"
    for key, value in block.items():
        if isinstance(value, Mapping):
            yield from _lines(value, path=(*path, key), others=others)
