"""Rows held back: the first in memory, and all of them in a temporary folder where there are very many."""

from __future__ import annotations

import shutil
import tempfile
import weakref
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import polars as pl


@dataclass(frozen=True, slots=True, weakref_slot=True)
class HeldBackFile:
    """All rows held back, in files of a temporary folder, which is deleted with the object.

    height : number of rows
    """

    folder: Path
    height: int

    def pieces(self) -> Iterator[pl.DataFrame]:
        """The rows, in order and in pieces."""
        for path in sorted(self.folder.iterdir()):
            yield pl.read_parquet(path)


def gathered(pieces: Iterable[pl.DataFrame], most: int) -> tuple[pl.DataFrame, HeldBackFile | None]:
    """Rows held back as one table, and the file of all of them where the table holds only the first `most`.

    pieces : tables of one schema, at least one, in order. Pieces that are written are not kept in memory.
    """
    folder = Path(tempfile.mkdtemp(prefix="draincurve-held-back-"))
    try:
        shown, height = _written(pieces, folder, most=most)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    file = HeldBackFile(folder, height)
    weakref.finalize(file, shutil.rmtree, folder, ignore_errors=True)
    return shown, file if height > most else None


def _written(pieces: Iterable[pl.DataFrame], folder: Path, *, most: int) -> tuple[pl.DataFrame, int]:
    """The first rows, and the number of all; every piece is in the folder once they are more than `most`."""
    shown: list[pl.DataFrame] = []
    height = 0
    for number, piece in enumerate(pieces):
        shown_rows = sum(part.height for part in shown)
        if height <= most < height + piece.height:
            for earlier, part in enumerate(shown):
                _write(part, folder, number=earlier)
        height += piece.height
        if height > most:
            _write(piece, folder, number=number)
        shown.append(piece.head(most - shown_rows))
    return pl.concat(shown), height


def _write(piece: pl.DataFrame, folder: Path, *, number: int) -> None:
    piece.write_parquet(folder / f"{number:08d}.parquet", compression="lz4")
