"""Adds a drain to a CSV log: the file keeps its format, and is replaced atomically."""

from __future__ import annotations

import os
import stat
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import polars as pl

from draincurve.log_entry.csv_layout import CsvLayout, csv_layout, new_layout
from draincurve.log_entry.drain_entry import AddedDrain, DrainEntry, EntryError, EntryRules, written_entry
from draincurve.log_entry.entry_cells import log_cells
from draincurve.log_entry.entry_check import questions_about
from draincurve.log_entry.folder_lock import locked_folder
from draincurve.log_entry.log_columns import columns_of, missing_columns
from draincurve.pipeline.atomic_file import PART, part_prefix, staged_file
from draincurve.pipeline.reading.cleaning import header_columns
from draincurve.pipeline.reading.sources import LINE, ReadingOptions, SourceTable, file_bytes, read_csv_file
from draincurve.schemas.columns import DRAINS

_NEW_FILE = 0o644


def add_to_csv(path: Path, entry: DrainEntry, *, rules: EntryRules) -> AddedDrain:
    """Add one drain to a CSV file.

    Raises EntryError where the drain is refused, SourceError for a file that cannot be read, OSError for one that
    cannot be written. Whatever is raised, and whenever the process is killed, the file is unchanged or has the
    complete row.
    """
    target = path.resolve()
    how = _how(rules)
    with locked_folder(target.parent):
        _clear_parts(target)
        if path.exists():
            content = file_bytes(path)
            layout = csv_layout(content, path, columns_of=how.columns_of)
            before = read_csv_file(path, "drains", how)
        elif rules.new_log:
            content, layout = None, new_layout([column.name for column in DRAINS])
            before = _no_rows(path.name, layout)
        else:
            raise EntryError(f"{path}: no such file; check the name, or begin a log with --new")
        return _written(path, content, layout=layout, before=before, entry=entry, rules=rules)


def _written(
    path: Path, content: bytes | None, *, layout: CsvLayout, before: SourceTable, entry: DrainEntry, rules: EntryRules
) -> AddedDrain:
    """Stage the file with the row, read it as `check` does, and replace the log unless the row is refused."""
    entry = written_entry(entry, columns_of(layout.header, rules=rules), rules=rules)
    missing = missing_columns(entry, layout.header, log=str(path), rules=rules)
    written = {name: entry.cells[name] for name in missing} | log_cells(entry, before, rules=rules)
    layout = layout.with_columns(missing) if missing else layout
    positions = columns_of(layout.header, rules=rules)
    row = [""] * len(layout.header)
    for name, text in written.items():
        row[positions[name]] = text
    longer = layout.with_row(row)
    with staged_file(path, longer.content, mode=_rights(path, content)) as staged:
        after = replace(read_csv_file(staged, "drains", _how(rules)), source=path.name)
        line = int(after.frame.get_column(LINE)[-1])
        questions = questions_about(entry, before=before, after=after, line=line, rules=rules)
        if content is not None and file_bytes(path) != content:
            raise EntryError(f"{path}: another program has just changed it; look at it, and try again")
        _keep_owner(path, staged)
    return AddedDrain(f"{path}, line {line}", longer.row_text(row), questions)


def _how(rules: EntryRules) -> ReadingOptions:
    return ReadingOptions(columns_of=header_columns(rules.settings))


def _rights(path: Path, content: bytes | None) -> int:
    """Permissions of the old file. Raises EntryError for a write-protected one, which must not be replaced."""
    if content is None:
        return _NEW_FILE
    if not os.access(path, os.W_OK):
        raise EntryError(f"{path}: is write-protected; take that away if it is the right file")
    return stat.S_IMODE(path.stat().st_mode)


def _keep_owner(path: Path, staged: Path) -> None:
    """Give the new file the owner of the old one, as far as this user may."""
    if path.exists():
        with suppress(PermissionError):
            os.chown(staged, path.stat().st_uid, path.stat().st_gid)


def _clear_parts(target: Path) -> None:
    """Delete staged files of a killed entry; while the folder is locked nobody else writes any."""
    for left in target.parent.iterdir():
        if left.name.startswith(part_prefix(target)) and left.name.endswith(PART):
            left.unlink(missing_ok=True)


def _no_rows(name: str, layout: CsvLayout) -> SourceTable:
    """A log with a header and nothing below it."""
    frame = pl.DataFrame(schema={**dict.fromkeys(layout.header, pl.String), LINE: pl.Int64})
    return SourceTable("drains", name, "", frame)
