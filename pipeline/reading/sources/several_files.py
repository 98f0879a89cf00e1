"""Several files or sheets read as one table: a log that is written by the month, or exported by the day."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import polars as pl

from draincurve.pipeline.reading.sources.source_table import SOURCE, SourceTable
from draincurve.schemas.errors import SourceError

_WILDCARDS = frozenset("*?[")


def matching_files(path: Path) -> list[Path]:
    """The file at a path, or the files that match it as a pattern, sorted by name.

    `*` and `?` match characters within one name, `**` matches folders. Names that begin with a dot never match. A
    path that exists is never a pattern. Raises SourceError for a pattern without a match.
    """
    if not _is_pattern(path):
        return [path]
    folder = _fixed_folder(path)
    matches = sorted(item for item in folder.glob(str(path.relative_to(folder))) if not _hidden(item, folder))
    files = [item for item in matches if not item.is_dir()]
    if not files:
        why = "only folders fit the pattern" if matches else "no file fits the pattern"
        there = "" if folder.is_dir() else f", and there is no folder {folder}"
        raise SourceError(f"{path}: {why}{there}; check the pattern and the folder")
    return files


def combined(path: Path, parts: Sequence[tuple[Path, SourceTable]]) -> SourceTable:
    """The tables of several files as one table, each row with the name of its file.

    path : as in `matching_files`; the only part is returned where it is no pattern. parts : files with their tables
    of the same name. A part is named by its path below the pattern's fixed folder.
    """
    if not _is_pattern(path):
        return parts[0][1]
    folder = _fixed_folder(path)
    named: list[SourceTable] = []
    notes: list[str] = []
    for file, part in parts:
        name = file.relative_to(folder).as_posix()
        named += [replace(one, source=name + one.source.removeprefix(file.name)) for one in part.parts or (part,)]
        notes += [f"{name}: {note}" for note in part.notes if part.parts]
    whole = hashlib.sha256("\n".join(f"{part.source} {part.sha256}" for part in named).encode()).hexdigest()
    return joined(path.relative_to(folder).as_posix(), named, sha256=whole, notes=notes)


def joined(source: str, parts: Sequence[SourceTable], *, sha256: str, notes: Sequence[str] = ()) -> SourceTable:
    """Parts of one table, one below the other, each row with the name of its part.

    source, sha256, notes : of the whole.
    """
    frames = [part.frame.with_columns(pl.lit(part.source).alias(SOURCE)) for part in parts]
    return SourceTable(
        table=parts[0].table,
        source=source,
        sha256=sha256,
        frame=pl.concat(frames, how="diagonal_relaxed"),
        notes=tuple(notes),
        parts=tuple(parts),
    )


def _hidden(item: Path, folder: Path) -> bool:
    """Whether a name begins with a dot, as lock files of office programs do."""
    return any(part.startswith(".") for part in item.relative_to(folder).parts)


def _is_pattern(path: Path) -> bool:
    return bool(_WILDCARDS & set(str(path))) and not path.exists()


def _fixed_folder(path: Path) -> Path:
    """The deepest folder of a pattern above its first wildcard."""
    return next(folder for folder in path.parents if not _WILDCARDS & set(str(folder)))
