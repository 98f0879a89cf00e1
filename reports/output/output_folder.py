"""One output folder, whole or not at all: everything is written to a folder beside it first, then swapped in."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from pathlib import Path

from draincurve.schemas.errors import SourceError

OUTPUT_FILES = (
    "next_service.csv",
    "next_service.parquet",
    "inspect_now.csv",
    "parts.csv",
    "fleet_intervals.csv",
    "spring_effects.csv",
    "forecast.csv",
    "held_back.csv",
    "tables.xlsx",
    "service.ics",
    "run.json",
    "report.html",
    "report.pdf",
    "work_list.pdf",
)
"""Every file that a plan may write. One that a later plan does not write is of an earlier log, and goes."""


@contextmanager
def swapped_in(folder: Path, ours: Collection[str] = OUTPUT_FILES) -> Iterator[Path]:
    """A temporary folder to write into; when the block ends without an error, it replaces `folder`.

    ours : names of the files that an earlier run may have left there. A folder with nothing else is replaced as a
    whole. A folder with other files keeps them; there the new files replace the old ones one by one. After an error
    nothing in `folder` has changed. Raises SourceError where the folder cannot be written to.
    """
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        if folder.exists() and not folder.is_dir():
            raise SourceError(f"{folder}: is a file; name a folder for the results")
        staged = Path(tempfile.mkdtemp(prefix=f".{folder.name or 'draincurve'}-", dir=folder.parent))
    except OSError as fault:
        raise SourceError(
            f"{folder}: cannot be written ({fault.strerror}); name a folder you may write to"
        ) from fault
    try:
        yield staged
        staged.chmod(0o755)
        sync_tree(staged)
        _replace(staged, folder, ours=frozenset(ours))
    except OSError as fault:
        raise SourceError(
            f"{folder}: cannot be written ({fault.strerror}); name a folder you may write to"
        ) from fault
    finally:
        shutil.rmtree(staged, ignore_errors=True)


def _replace(staged: Path, folder: Path, *, ours: frozenset[str]) -> None:
    """Replaces `folder` by the staged folder, or its files by the staged ones."""
    if not folder.exists():
        staged.rename(folder)
        return
    if folder.is_symlink() or {item.name for item in folder.iterdir()} - ours:
        _move_files(staged, folder, ours=ours)
        return
    before = staged.with_name(f"{staged.name}-before")
    try:
        folder.rename(before)
    except OSError:  # a mount point or a folder in use cannot be renamed, its files can be replaced
        _move_files(staged, folder, ours=ours)
        return
    try:
        staged.rename(folder)
    except OSError:
        before.rename(folder)
        raise
    shutil.rmtree(before)


def _move_files(staged: Path, folder: Path, *, ours: frozenset[str]) -> None:
    """Replaces file by file, each in one step, and deletes files of an earlier run that this one did not write."""
    written = sorted(staged.iterdir())
    for item in written:
        item.replace(folder / item.name)
    for name in ours - {item.name for item in written}:
        (folder / name).unlink(missing_ok=True)


def sync_tree(folder: Path) -> None:
    """Writes every file below a folder, and the folders themselves, through to the disk."""
    for parent, _, names in os.walk(folder):
        for name in names:
            sync(Path(parent) / name)
        sync(Path(parent))


def sync(path: Path) -> None:
    """Writes a file, or the entries of a folder, through to the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
