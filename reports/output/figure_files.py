"""Each picture of a report as SVG and PNG in a folder, with an index of what each one shows."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from pathlib import Path

import polars as pl

from draincurve.reports.content.report_content import ReportContent
from draincurve.reports.figures.svg_picture import Picture, standalone_svg
from draincurve.reports.output.output_folder import swapped_in
from draincurve.reports.print_edition.typesetting import drawn_as_png
from draincurve.reports.tables.csv_tables import write_table

INDEX = "figures.csv"

_NAME = re.compile(r"[a-z0-9][a-z0-9-]*\.(svg|png)")


def write_figures(content: ReportContent, folder: Path) -> None:
    """Writes every picture as NAME.svg and NAME.png, and figures.csv with their titles; all or none of them.

    Pictures of an earlier run are replaced; other files in `folder` are kept. Raises SourceError where the folder
    cannot be written to.
    """
    named = dict(named_pictures(content))
    ours = {INDEX, *_files_in_index(folder), *(f"{name}.{kind}" for name in named for kind in ("svg", "png"))}
    with swapped_in(folder, ours) as staged:
        for (name, picture), png in zip(named.items(), drawn_as_png(list(named.values())), strict=True):
            (staged / f"{name}.svg").write_bytes(standalone_svg(picture).encode("utf-8"))
            (staged / f"{name}.png").write_bytes(png)
        write_table(_index(named), staged / INDEX)


def named_pictures(content: ReportContent) -> Iterator[tuple[str, Picture]]:
    """Pictures in the order of the report, each with a name that is safe as a file name.

    A unit's picture has the name of the anchor of its section, which is plain letters whatever its id holds.
    """
    for number, hours in enumerate(content.hours_pictures, start=1):
        yield f"hours-on-the-oil-{number}", hours.wide
    if content.forecast is not None:
        yield from _named_picture("next-weeks", content.forecast.picture)
    for channel in content.channels:
        for part in ("curve", "kinds", "multipliers", "movement"):
            yield from _named_picture(f"{channel.name}-{part}", getattr(channel, part))
    for number, measured in enumerate(content.wear.quantities if content.wear else (), start=1):
        yield from _named_picture(f"measured-{number}", measured.picture)
    for number, turned in enumerate(content.turned.pictures, start=1):
        yield f"turned-{number}", turned
    yield from _named_picture("raters", content.raters.picture)
    for springs in content.springs:
        yield from _named_picture(f"{springs.channel}-springs", springs.picture)
    for tried in content.backtest.channels:
        yield from _named_picture(f"{tried.name}-earlier-predictions", tried.picture)
    for unit in content.units:
        yield from _named_picture(unit.row.anchor, unit.picture)
        yield from _named_picture(f"{unit.row.anchor}-worn", unit.worn)


def _named_picture(name: str, picture: Picture | None) -> Iterator[tuple[str, Picture]]:
    if picture is not None:
        yield name, picture


def _index(named: dict[str, Picture]) -> pl.DataFrame:
    return pl.DataFrame(
        {
            "figure": list(named),
            "title": [picture.title.encode("utf-8", "replace").decode() for picture in named.values()],
            "shows": [picture.description.encode("utf-8", "replace").decode() for picture in named.values()],
        },
        schema={"figure": pl.String, "title": pl.String, "shows": pl.String},
    )


def _files_in_index(folder: Path) -> set[str]:
    """Files that an earlier run wrote, by its index; a name that is not one of ours is never touched."""
    try:
        with (folder / INDEX).open(encoding="utf-8", newline="") as index:
            names = [row.get("figure") or "" for row in csv.DictReader(index)]
    except (OSError, UnicodeDecodeError, csv.Error):
        return set()
    return {file for name in names for file in (f"{name}.svg", f"{name}.png") if _NAME.fullmatch(file)}
