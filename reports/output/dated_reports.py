"""Dated report folders side by side, and a link `latest` to the newest whole one.

Why a link: `docs/decisions/06-nightly.md`.
"""

from __future__ import annotations

import re
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

from draincurve.reports.output.output_folder import sync, sync_tree

LATEST = "latest"
_STAGED = ".building-"
_NAME = re.compile(r"\d{4}-\d{2}-\d{2}_(\d{4,})")


def latest_report(folder: Path) -> Path | None:
    """The newest whole report; None if there is none yet."""
    link = folder / LATEST
    target = folder / link.readlink() if link.is_symlink() else link
    return target if target.is_dir() else None


@contextmanager
def new_report(folder: Path, as_of: date) -> Iterator[tuple[Path, Path]]:
    """A temporary folder to build a report in, and the folder that it becomes when the block ends.

    Until then, and if the block fails, `latest` and all reports are unchanged. Only one process may use `folder` at a
    time. Raises OSError.
    """
    staged = Path(tempfile.mkdtemp(prefix=_STAGED, dir=folder))
    target = folder / f"{as_of.isoformat()}_{_last_number(folder) + 1:04d}"
    try:
        yield staged, target
        staged.chmod(0o755)
        sync_tree(staged)
        staged.rename(target)
        sync(folder)
    except BaseException:
        shutil.rmtree(staged, ignore_errors=True)
        raise
    _point_latest_to(folder, target.name)


def delete_old(folder: Path, keep: int) -> list[str]:
    """Deletes all but the newest `keep` reports, never the one that `latest` points to; returns the names deleted."""
    linked = latest_report(folder)
    old = [name for name in sorted(_reports(folder), key=_number)[:-keep] if linked is None or name != linked.name]
    for name in old:
        _delete(folder / name)
    return old


def clear_leftovers(folder: Path) -> None:
    """Deletes unfinished reports of runs that were killed; only one process may use `folder` at a time."""
    for item in folder.iterdir():
        if item.name.startswith(_STAGED):
            _delete(item)


def _point_latest_to(folder: Path, name: str) -> None:
    """Points `latest` to another report in one step: rename() replaces a link atomically (POSIX)."""
    link = folder / f"{_STAGED}{LATEST}"
    link.unlink(missing_ok=True)
    link.symlink_to(name, target_is_directory=True)
    link.replace(folder / LATEST)
    sync(folder)


def _delete(item: Path) -> None:
    """Renames an item first, then deletes it, so that no half-deleted report looks like a whole one."""
    if item.is_symlink() or not item.is_dir():
        item.unlink()
        return
    if not item.name.startswith(_STAGED):
        item = item.rename(item.with_name(f"{_STAGED}old-{item.name}"))
    shutil.rmtree(item)


def _reports(folder: Path) -> list[str]:
    return [item.name for item in folder.iterdir() if _NAME.fullmatch(item.name)]


def _number(name: str) -> int:
    match = _NAME.fullmatch(name)
    return int(match.group(1)) if match else 0


def _last_number(folder: Path) -> int:
    return max(map(_number, _reports(folder)), default=0)
