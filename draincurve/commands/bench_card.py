"""`draincurve bench-card`: one page of A4 for the bench, to fill by pen."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from draincurve.commands.command_line import Quiet, SettingsFile, errors_on_one_line, say


def bench_card(
    out: Annotated[Path, typer.Option("--out", metavar="CARD.pdf", help="Where to write the card.")],
    settings: SettingsFile = None,
    quiet: Quiet = False,
) -> None:
    """A card for the bench: the rating scales in words, how to look, cautions, room for drains by pen."""
    with errors_on_one_line():
        from draincurve.reports.print_edition.bench_card_pdf import write_bench_card
        from draincurve.schemas.settings import read_settings

        write_bench_card(read_settings(settings), out)
    if not quiet:
        say(f"card: {out}")
