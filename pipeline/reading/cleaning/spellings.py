"""One spelling for every name across all tables.

Spellings that differ by case, spaces or punctuation are one name. Names that are only similar are asked about, never
merged.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import polars as pl

from draincurve.pipeline.reading.cleaning.name_similarity import near_matches
from draincurve.pipeline.reading.cleaning.two_names import (
    PEOPLE,
    WHAT_TO_WRITE,
    TwoNames,
    cells_of_two_names,
    with_two_names_held_back,
)
from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, file_finding, words_setting
from draincurve.schemas.checked_settings import toml_text
from draincurve.schemas.settings import Settings

NAME_COLUMNS = (
    "unit_id",
    "oil_grade",
    "spring_type",
    "rider",
    "rated_by",
    "surface",
    "site",
    "machine",
    "chamber",
    "drain_method",
)
"""Columns whose cells are names, each with one spelling."""

MOST_ASKED = 25
"""Pairs of similar names that are asked about for each column; the others are only counted."""
_MARKS = re.compile(r"[\W_]+")
_MARKS_BESIDE_LETTERS = re.compile(r"(?<=[a-z])[\W_]+|[\W_]++(?=[a-z])")
"""Most marks: they are dropped at once, without a look at what is beside each."""


@dataclass(frozen=True, slots=True)
class Spellings:
    """Spellings of one kind of name over all tables.

    shown : the spelling shown, for each text. variants : all spellings of a name, where there are several, by the one
    shown. by_key : the spelling shown, by spelling key. times : how often the name is there, by the spelling shown
    """

    shown: Mapping[str, str]
    variants: Mapping[str, tuple[str, ...]]
    by_key: Mapping[str, str]
    times: Mapping[str, int]


def with_one_spelling(tables: Mapping[str, WorkingTable], settings: Settings) -> dict[str, WorkingTable]:
    """The tables with every name in one spelling, that of the drains where they have the name.

    Names that are merely similar are asked about, unless the settings have one of them among their words.
    """
    done = dict(tables)
    for name in NAME_COLUMNS:
        having = [table for table in done if name in done[table].parsed.columns]
        if not having:
            continue
        spellings = common_spellings([done[table].parsed.get_column(name) for table in having])
        settled = {spelling_key(word) for word in settings.words_of(name)}
        may_be_two = name in WHAT_TO_WRITE or name in PEOPLE
        two = _two_names(done, name, spellings=spellings, settled=settled) if may_be_two else {}
        asked = {key: one for key, one in spellings.by_key.items() if key not in settled and one not in two}
        near = near_matches(asked, name)
        for table in having:
            done[table] = _respelt(done[table], name, spellings=spellings)
            if two and name in WHAT_TO_WRITE:
                done[table] = with_two_names_held_back(done[table], name, two)
        here = frozenset(done[having[0]].parsed[name].drop_nulls().unique()) if near else frozenset()
        done[having[0]] = done[having[0]].with_findings(*_remarks(name, spellings, near=near, here=here))
        done = {
            table: replace(working, similar_pairs={**working.similar_pairs, name: near})
            for table, working in done.items()
        }
        if two and name in PEOPLE:
            cells = {cell: two_names.names for cell, two_names in two.items()}
            done = {
                table: replace(working, people_in_one_cell={**working.people_in_one_cell, name: cells})
                for table, working in done.items()
            }
        if name == "unit_id":
            similar = frozenset(unit for pair in (*near, *(cell.names for cell in two.values())) for unit in pair)
            in_one_cell = {cell: two_names.names for cell, two_names in two.items()}
            done = {
                table: replace(working, similar_units=similar, units_in_one_cell=in_one_cell)
                for table, working in done.items()
            }
    return done


def _two_names(
    tables: Mapping[str, WorkingTable], name: str, *, spellings: Spellings, settled: set[str]
) -> dict[str, TwoNames]:
    """Cells that name two things and that neither the settings nor a register have as one name."""
    register = {"unit_id": tables.get("units"), "oil_grade": tables.get("oils")}.get(name)
    names = register.parsed.get_column(name) if register else pl.Series([], dtype=pl.String)
    listed = {spelling_key(text) for text in names.drop_nulls()} | settled
    return cells_of_two_names(
        spellings.times,
        lambda text: spellings.by_key.get(spelling_key(text)),
        listed=frozenset(shown for key, shown in spellings.by_key.items() if key in listed),
        people=name in PEOPLE,
    )


def _respelt(working: WorkingTable, name: str, *, spellings: Spellings) -> WorkingTable:
    changed = {text: shown for text, shown in spellings.shown.items() if text != shown}
    if not changed:
        return working
    return working.with_parsed(working.parsed.with_columns(pl.col(name).replace(changed)))


def _remarks(
    name: str, spellings: Spellings, *, near: Sequence[tuple[str, str]], here: frozenset[str]
) -> list[pl.DataFrame]:
    """Notes on spellings that are one, and questions about names that may be; here : names of the first table."""
    remarks = [
        file_finding(name, shown, kind="note", message=f"{_quoted_names(variants)} are taken as one: '{shown}'")
        for shown, variants in spellings.variants.items()
    ]
    remarks += [_merge_question(name, pair, times=spellings.times, here=here) for pair in near[:MOST_ASKED]]
    more = len(near) - MOST_ASKED
    if more > 0:
        message = f"{more} more pairs of names look alike and are kept apart"
        remarks.append(file_finding(name, None, kind="asked", message=message))
    return remarks


def _merge_question(
    name: str, pair: tuple[str, str], *, times: Mapping[str, int], here: frozenset[str]
) -> pl.DataFrame:
    """The question whether two names are one, with the settings that merge the rarer one into the other.

    here : names of the first table, which are the others' common ones however rare they are
    """
    common, rare = sorted(pair, key=lambda one: (one not in here, -times[one], one))
    message = f"are '{rare}' and '{common}' one? They are kept apart"
    setting = words_setting(name, rare, common, remark=f"{toml_text(rare)} if they are two")
    return file_finding(name, rare, kind="asked", message=message, setting=setting)


def _quoted_names(names: tuple[str, ...]) -> str:
    return ", ".join(f"'{name}'" for name in names[:-1]) + f" and '{names[-1]}'"


def common_spellings(columns: Sequence[pl.Series]) -> Spellings:
    """The common spelling of each name.

    columns : String, trimmed, one for each table. The first table that has a name decides how it is shown: by its
    most frequent spelling, or the earliest of equally frequent ones.
    """
    keys: dict[str, str] = {}
    uses: dict[str, list[tuple[int, int, int, str]]] = {}
    for rank, column in enumerate(columns):
        counted = column.to_frame("text").group_by("text", maintain_order=True).len("times")
        for first, (text, times) in enumerate(counted.iter_rows()):
            if text is not None:
                keys.setdefault(text, spelling_key(text))
                uses.setdefault(keys[text], []).append((rank, -times, first, text))
    shown = {key: min(uses[key])[-1] for key in sorted(uses)}
    spellings = {key: tuple(dict.fromkeys(text for *_, text in sorted(uses[key]))) for key in shown}
    return Spellings(
        {text: shown[key] for text, key in keys.items()},
        {shown[key]: texts for key, texts in spellings.items() if len(texts) > 1},
        shown,
        {shown[key]: -sum(times for _, times, *_ in uses[key]) for key in shown},
    )


def spelling_key(text: str) -> str:
    """A name without case, spaces and punctuation: equal for spellings of one name.

    A mark between two digits is kept ("2.5W" is not "25W", "7-1" is not "71"), and so is a plus sign.
    """
    folded = text.lower() if text.isascii() else unicodedata.normalize("NFKC", text).casefold()
    if folded.isalnum():
        return folded
    if "+" not in folded:
        folded = _MARKS_BESIDE_LETTERS.sub("", folded)

    def kept(match: re.Match[str]) -> str:
        before, after = folded[match.start() - 1 : match.start()], folded[match.end() : match.end() + 1]
        if "+" in match.group():
            return "+"
        if before.isdigit() and after.isdigit():
            return "." if match.group() in (".", ",") else "_"
        return ""

    return _MARKS.sub(kept, folded) or folded
