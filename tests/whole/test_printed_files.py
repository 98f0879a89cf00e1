"""What the program leaves for paper and slides: report.pdf, a folder of figures, the card for the bench."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from printed_text import copied_pages
from small_logs import AS_OF, simple_log

SETTINGS = "[limits]\ncolour_rating = 3\n"


def test_plan_writes_the_printed_report_and_the_figures_it_is_asked_for(run, write, tmp_path: Path) -> None:
    log = write("log.csv", simple_log(4, 12))
    figures = tmp_path / "slides"
    outcome = run("plan", log, "--as-of", AS_OF, "--figures", figures)
    assert outcome.status == 0
    pages = copied_pages((outcome.folder / "report.pdf").read_bytes())
    assert all(f"{number} / {len(pages)}" in page for number, page in enumerate(pages, start=1))
    names = [row["figure"] for row in csv.DictReader(io.StringIO((figures / "figures.csv").read_text()))]
    assert {"hours-on-the-oil-1", "colour-curve"} <= set(names)
    assert (
        {item.stem for item in figures.glob("*.svg")} == {item.stem for item in figures.glob("*.png")} == set(names)
    )


def test_the_card_needs_no_log_and_takes_the_shops_limits(run, tmp_path: Path) -> None:
    settings = tmp_path / "settings.toml"
    settings.write_text(SETTINGS)
    for words, limit in (([], 4), (["--settings", settings], 3)):
        outcome = run("bench-card", "--out", tmp_path / "card.pdf", *words, out=False)
        assert outcome.status == 0
        assert outcome.printed == f"card: {tmp_path / 'card.pdf'}\n"
        (page,) = copied_pages((tmp_path / "card.pdf").read_bytes())
        assert f"past fit from {limit}" in page


def test_a_card_that_cannot_be_written_is_one_clear_line(run, tmp_path: Path) -> None:
    outcome = run("bench-card", "--out", tmp_path / "nowhere" / "card.pdf", out=False)
    assert outcome.status == 1
    assert outcome.printed.count("\n") == 1
    assert "card.pdf: No such file or directory" in outcome.printed
