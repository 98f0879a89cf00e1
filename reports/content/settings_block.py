"""The settings that answer questions, as one block of lines to paste into the settings file."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import polars as pl

from draincurve.pipeline.reading import Log
from draincurve.schemas.checked_settings import toml_key, toml_text

HOW_TO_USE = (
    "# Settings that would answer questions about this log. Check each line, leave out what is wrong,",
    "# paste the others into your settings file, and name the file with --settings. In the settings of a nightly run",
    "# they belong under [policy]: [policy.headers] for [headers], [policy.words.unit_id] for [words.unit_id].",
)
_TO_DECIDE = (
    "# Lines below that begin with # need a decision: take the # away from what is true, and fill in what is empty."
)
_Path = tuple[str, ...]
NO_SETTING = "# No setting would answer a question about this log."


@dataclass(frozen=True, slots=True)
class _Block:
    """Values by key, and what is said behind and below a key: its remark, and the other values that are proposed."""

    values: dict[str, Any] = field(default_factory=dict)
    remarks: dict[_Path, str] = field(default_factory=dict)
    others: dict[_Path, list[Any]] = field(default_factory=dict)

    def add(self, text: str) -> None:
        """Add the lines of one finding."""
        self._merge(self.values, tomllib.loads(text), path=(), remark=_remark(text))

    def _merge(self, values: dict[str, Any], nested: Mapping[str, Any], *, path: _Path, remark: str) -> None:
        """Add the values that are new; lists of one key are joined."""
        for key, value in nested.items():
            here = values.get(key)
            if isinstance(value, Mapping):
                self._merge(values.setdefault(key, {}), value, path=(*path, key), remark=remark)
            elif here is None:
                values[key] = value
                self.remarks[*path, key] = remark
            elif isinstance(value, list) and isinstance(here, list):
                values[key] = [*here, *(item for item in value if item not in here)]
            elif value != here:
                self.others.setdefault((*path, key), []).append(value)

    def lines(self, values: Mapping[str, Any], path: _Path = ()) -> Iterator[str]:
        """The values of a table, then the tables in it."""
        values_here = {key: value for key, value in values.items() if not isinstance(value, Mapping)}
        if values_here and path:
            yield f"[{'.'.join(map(toml_key, path))}]"
        for key, value in values_here.items():
            to_fill_in = "# " if value == "" else ""
            yield f"{to_fill_in}{toml_key(key)} = {toml_text(value)}{self.remarks[*path, key]}"
            for other in self.others.get((*path, key), ()):
                yield f"# or {toml_key(key)} = {toml_text(other)}"
        for key, value in values.items():
            if isinstance(value, Mapping):
                yield from self.lines(value, (*path, key))


def how_to_use(block: Sequence[str]) -> tuple[str, ...]:
    """What to do with a block, as comments above it."""
    return (*HOW_TO_USE, _TO_DECIDE) if any(line.startswith("#") for line in block) else HOW_TO_USE


def settings_block(log: Log) -> tuple[str, ...]:
    """Lines of one settings file with every setting that the findings propose; empty where they propose none.

    Where findings propose several values for one key, the first stays and the others are comments below it. A value
    that a person has to fill in is a comment, too, so that the block answers nothing by itself.
    """
    proposed = pl.concat([log.reasons, log.remarks]).get_column("setting").drop_nulls().unique(maintain_order=True)
    block = _Block()
    for text in proposed:
        block.add(text)
    return tuple(block.lines(block.values))


def _remark(text: str) -> str:
    """The comment at the end of a finding's lines, with the space before it; empty where there is none."""
    for match in re.finditer(r"\s*#", text.rstrip()):
        if not _parses_equally(text[: match.start()], text):
            continue
        remark = text[match.start() :].rstrip()
        return "" if "\n" in remark else remark
    return ""


def _parses_equally(shorter: str, text: str) -> bool:
    try:
        return tomllib.loads(shorter) == tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return False
