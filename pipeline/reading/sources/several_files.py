"""Several files read as one table: a log that is written by the month, or exported by the day."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import polars as pl

from draincurve.pipeline.reading.sources.source_table import SOURCE, SourceTable
from draincurve.schemas.errors import SourceError

_MARKS = frozenset("*?[")


def files_of(path: Path) -> list[Path]:
    """The files that a path means: itself, or those that fit it as a pattern, in order of their names.

    `*` and `?` stand for letters of one name, `**` for folders; names that begin with a dot fit nothing.
    A file that is really named so is itself. Raises SourceError for a pattern that nothing fits.
    """
    if not _is_pattern(path):
        return [path]
    folder = _fixed_folder(path)
    found = sorted(item for item in folder.glob(str(path.relative_to(folder))) if not _hidden(item, folder))
    files = [item for item in found if not item.is_dir()]
    if not files:
        why = "only folders fit the pattern" if found else "no file fits the pattern"
        there = "" if folder.is_dir() else f", and there is no folder {folder}"
        raise SourceError(f"{path}: {why}{there}; check the pattern and the folder")
    return files


def put_together(path: Path, parts: Sequence[tuple[Path, SourceTable]]) -> SourceTable:
    """One table of the tables of several files, each row with the name of its own file.

    path : as in `files_of`; where it is no pattern, the only part is the table. parts : files with their tables of
    the same name. A part is named by its file, and by the folders that the pattern leaves open.
    """
    if not _is_pattern(path):
        return parts[0][1]
    folder = _fixed_folder(path)
    named = tuple(
        replace(part, source=file.relative_to(folder).as_posix() + part.source.removeprefix(file.name))
        for file, part in parts
    )
    frames = [part.frame.with_columns(pl.lit(part.source).alias(SOURCE)) for part in named]
    whole = hashlib.sha256("\n".join(f"{part.source} {part.sha256}" for part in named).encode()).hexdigest()
    return SourceTable(
        table=named[0].table,
        source=path.relative_to(folder).as_posix(),
        sha256=whole,
        frame=pl.concat(frames, how="diagonal_relaxed"),
        parts=named,
    )


def _hidden(item: Path, folder: Path) -> bool:
    """Whether a name begins with a dot: what editors and office programs leave beside an open file."""
    return any(part.startswith(".") for part in item.relative_to(folder).parts)


def _is_pattern(path: Path) -> bool:
    return bool(_MARKS & set(str(path))) and not path.exists()


def _fixed_folder(path: Path) -> Path:
    """The folder above everything that the pattern leaves open."""
    return next(folder for folder in path.parents if not _MARKS & set(str(folder)))
