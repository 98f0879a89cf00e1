"""Workbooks of other formats than XLSX, read by a process of their own whose memory is bounded.

Their markup is not scanned beforehand, and the reader ends the whole process where a file claims cells far out. Run
as a module, with a folder that holds the workbook, it writes the cells of every sheet beside it.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from draincurve.pipeline.reading.sources.bounds import MOST_SHEET_CELLS, READER_BYTES, READER_SECONDS
from draincurve.pipeline.reading.sources.ods_times import times_of_sheets, with_times
from draincurve.schemas.errors import SourceError

_WORKBOOK, _SHEETS = "workbook", "sheets.json"


@dataclass(frozen=True, slots=True)
class ConfinedSheet:
    """The cells of a sheet as text, rows from the first one on; None where it holds nothing."""

    name: str
    hidden: bool
    cells: pl.DataFrame | None


def confined_sheets(content: bytes, path: Path) -> list[ConfinedSheet]:
    """Every sheet of a workbook. Raises SourceError where the reader fails, takes too long or too much memory."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / _WORKBOOK).write_bytes(content)
        try:
            done = subprocess.run(
                [sys.executable, "-m", __name__, name], capture_output=True, timeout=READER_SECONDS, check=False
            )
        except subprocess.TimeoutExpired as fault:
            raise SourceError(f"{path}: takes more than {READER_SECONDS} s to read; save it as XLSX") from fault
        if done.returncode:
            reason = done.stdout.decode("utf-8", "replace").strip() or "it claims more cells than memory holds"
            raise SourceError(f"{path}: not a workbook that can be opened ({reason[:200]}); save it again as XLSX")
        listed = json.loads((folder / _SHEETS).read_text(encoding="utf-8"))
        return [
            ConfinedSheet(sheet, hidden, pl.read_ipc((folder / file).read_bytes()) if file else None)
            for sheet, hidden, file in listed
        ]


def _write_sheets(folder: Path) -> None:
    """Read the workbook in a folder and write its sheets there."""
    import fastexcel

    content = (folder / _WORKBOOK).read_bytes()
    book, times = fastexcel.read_excel(content), times_of_sheets(content)
    listed: list[tuple[str, bool, str | None]] = []
    for number, name in enumerate(book.sheet_names):
        loaded = book.load_sheet(name, header_row=None, skip_rows=0, dtypes="string")
        if loaded.width * loaded.total_height > MOST_SHEET_CELLS:
            raise ValueError(f"sheet {name} has more than {MOST_SHEET_CELLS:,} cells")
        cells: pl.DataFrame = loaded.to_polars()
        file = f"{number}.arrow" if cells.width else None
        if file is not None:
            with_times(cells.select(pl.all().cast(pl.String)), times.get(name, {})).write_ipc(folder / file)
        listed.append((name, loaded.visible != "visible", file))
    (folder / _SHEETS).write_text(json.dumps(listed), encoding="utf-8")


def _main() -> int:
    with suppress(ImportError, ValueError, OSError):  # other systems have no such limit
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (READER_BYTES, READER_BYTES))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    try:
        _write_sheets(Path(sys.argv[1]))
    except BaseException as fault:  # a panic of the reader is no Exception
        print(" ".join(str(fault).split())[:200])
        return 1
    return 0


if __name__ == "__main__":
    raise SystemExit(_main())
