"""One spelling for every name across all tables.

Spellings that differ by case, spaces or punctuation are one name. Names that are only similar are asked about, never
merged.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import polars as pl

from draincurve.pipeline.reading.cleaning.doubted_names import doubts_about_names
from draincurve.pipeline.reading.cleaning.name_similarity import near_matches
from draincurve.pipeline.reading.cleaning.names_of_no_unit import names_of_no_unit
from draincurve.pipeline.reading.cleaning.names_within_names import names_within
from draincurve.pipeline.reading.cleaning.note_corrections import former_names
from draincurve.pipeline.reading.cleaning.shortened_names import shortened_kinds, shortened_names
from draincurve.pipeline.reading.cleaning.sound_alikes import sound_alikes
from draincurve.pipeline.reading.cleaning.spelling_keys import spelling_key
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


@dataclass(frozen=True, slots=True)
class Spellings:
    """Spellings of one kind of name over all tables.

    names : the distinct texts of each table, in order of appearance. shown : the spelling shown, for each text
    variants : all spellings of a name, where there are several, by the one shown. by_key : the spelling shown, by
    spelling key. times : how often the name is there, by the spelling shown
    """

    names: tuple[pl.Series, ...]
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
        two, within = _names_in_names(done, name, spellings=spellings, settled=settled)
        asked = {key: one for key, one in spellings.by_key.items() if key not in settled and one not in two}
        for table, texts in zip(having, spellings.names, strict=True):
            doubts = doubts_about_names(done[table], name, texts, shown=spellings.shown, settled=settled)
            done[table] = _respelt(done[table], name, spellings=spellings).with_findings(*doubts)
            if two and name in WHAT_TO_WRITE:
                done[table] = with_two_names_held_back(done[table], name, two)
        names, pairs = (
            {*asked.values()},
            (*near_matches(asked, name, times=spellings.times), *within, *_linked(done, name, spellings)),
        )
        near = tuple({frozenset(pair): pair for pair in pairs if {*pair} <= names}.values())
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


def _linked(tables: Mapping[str, WorkingTable], name: str, spellings: Spellings) -> tuple[tuple[str, str], ...]:
    """Pairs by a short form, of people by sound, too, and of units of which a note gives a former name."""
    if name in ("oil_grade", "spring_type"):
        return shortened_kinds(spellings.times)
    drains = tables.get("drains")
    if drains is None or (name != "unit_id" and name not in PEOPLE):
        return ()
    if name == "unit_id":
        return former_names(drains.parsed, shown=spellings.by_key)
    return (*sound_alikes(drains.parsed, name, times=spellings.times), *shortened_names(spellings.times))


def _names_in_names(
    tables: Mapping[str, WorkingTable], name: str, *, spellings: Spellings, settled: set[str]
) -> tuple[dict[str, TwoNames], tuple[tuple[str, str], ...]]:
    """Cells that name several things, and pairs of which one name holds the other.

    Names that the settings or a register have as one are no such cells.
    """
    if name not in WHAT_TO_WRITE and name not in PEOPLE:
        return {}, ()
    register = {"unit_id": tables.get("units"), "oil_grade": tables.get("oils")}.get(name)
    names = register.parsed.get_column(name) if register else pl.Series([], dtype=pl.String)
    keys = {spelling_key(text) for text in names.drop_nulls()} | settled
    listed = frozenset(shown for key, shown in spellings.by_key.items() if key in keys)
    apart = cells_of_two_names(
        spellings.times,
        lambda text: spellings.by_key.get(spelling_key(text)),
        listed=listed,
        column=name,
    )
    no_units = names_of_no_unit(pl.Series(list(spellings.times), dtype=pl.String)) if name == "unit_id" else {}
    others = {*apart, *no_units}
    single = {text: times for text, times in spellings.times.items() if text not in others}
    within = names_within(single, name, listed=listed)
    return apart | within.several, within.pairs


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
    asked = _without_detours(near, _commonest_first(spellings, here))
    remarks += [_merge_question(name, pair) for pair in asked[:MOST_ASKED]]
    more = len(asked) - MOST_ASKED
    if more > 0:
        message = f"{more} more pairs of names look alike and count as two"
        remarks.append(file_finding(name, None, kind="asked", message=message))
    return remarks


def _commonest_first(spellings: Spellings, here: frozenset[str]) -> Callable[[str], tuple[bool, int, str]]:
    """A key that sorts names: those of the first table are the others' common ones however rare they are."""
    return lambda one: (one not in here, -spellings.times[one], one)


def _without_detours(
    near: Sequence[tuple[str, str]], order: Callable[[str], tuple[bool, int, str]]
) -> list[tuple[str, str]]:
    """The pairs, the commoner name first, but for those of two names that may both be one that is commoner still."""
    commoner: dict[str, set[str]] = {}
    pairs = [(min(pair, key=order), max(pair, key=order)) for pair in near]
    for common, rare in pairs:
        commoner.setdefault(rare, set()).add(common)
    return [(common, rare) for common, rare in pairs if commoner.get(common, set()).isdisjoint(commoner[rare])]


def _merge_question(name: str, pair: tuple[str, str]) -> pl.DataFrame:
    """The question whether two names are one, with the settings that make the second one, the rarer, the first."""
    common, rare = pair
    message = f"are '{rare}' and '{common}' one? They count as two until you answer"
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
    counted = [
        column.to_frame("text").group_by("text", maintain_order=True).len("times").drop_nulls() for column in columns
    ]
    for rank, names in enumerate(counted):
        for first, (text, times) in enumerate(names.iter_rows()):
            keys[text] = key = keys.get(text) or spelling_key(text)
            uses.setdefault(key, []).append((rank, -times, first, text))
    shown = {key: min(uses[key])[-1] for key in sorted(uses)}
    several = {key: dict.fromkeys(text for *_, text in sorted(uses[key])) for key in shown if len(uses[key]) > 1}
    return Spellings(
        tuple(names["text"] for names in counted),
        {text: shown[key] for text, key in keys.items()},
        {shown[key]: tuple(texts) for key, texts in several.items() if len(texts) > 1},
        shown,
        {shown[key]: -sum([use[1] for use in uses[key]]) for key in shown},
    )
