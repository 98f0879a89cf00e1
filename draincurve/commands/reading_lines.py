"""What was read, as lines on the terminal: row accounting, rows held back, questions and notes."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from draincurve.commands.command_line import say

if TYPE_CHECKING:
    import polars as pl

    from draincurve.pipeline.reading import Log, TableAccount

MOST_SETTINGS = 30
"""Lines of settings that are printed."""
MOST_ROWS = 20
"""Findings of one kind that are listed; the others are counted."""
FEWEST_ALIKE = 3
"""Rows with the same cell and the same reason that are one line."""
MOST_NAMED = 8
"""Lines and units that such a line names; the others are counted."""
_ABOUT = ("kind", "source", "message", "proposal")
"""What findings have in common that are printed in one line."""


def print_log(log: Log) -> None:
    """Print how many rows were read, held back and asked about, and the commonest questions."""
    from draincurve.reports.content.finding_text import asked_kinds

    print_accounts(log.accounts)
    if log.faulty_count:
        say(f"{_counted(log.faulty_count, 'row')} held back: `draincurve check` shows why")
    asked = _asked_text(log)
    if asked:
        say(f"{asked}:")
        for kind in asked_kinds(log):
            say(f"  {kind}", wrap=True)
    print_assumed(log)
    print_notes(log)


def print_accounts(accounts: Iterable[TableAccount]) -> None:
    """Print one line for each table: read = accepted + held back."""
    for account in accounts:
        no_rows = f" ({account.no_rows} of them totals, titles or repeated headers)" if account.no_rows else ""
        say(
            f"{account.table} ({account.source}): read {account.read} = accepted {account.accepted} "
            f"+ held back {account.held_back}{no_rows}"
        )


def print_accepted(log: Log) -> None:
    """Print what the accepted rows of drains count as."""
    from draincurve.reports.content.finding_text import accepted_text

    say(accepted_text(log))


def print_counts(log: Log) -> None:
    """Print how many rows are held back and asked about."""
    held = log.faulty_count
    counts = [f"{_counted(held, 'row')} held back" if held else "", _asked_text(log)]
    if any(counts):
        say(", ".join(part for part in counts if part))


def print_problems(log: Log, *listed: pl.DataFrame) -> None:
    """Print the commonest problems where the lists of all of them, which follow, are long.

    listed : the findings of each list
    """
    from draincurve.pipeline.reading import MOST_COMMON
    from draincurve.reports.content.finding_text import kinds_text, problem_kinds

    if sum(_lines(findings, verbose=False).height for findings in listed) > MOST_ROWS:
        say("the commonest problems:")
        for line in kinds_text(problem_kinds(log), log, most=MOST_COMMON):
            say(f"  {line}", wrap=True)


def print_assumed(log: Log) -> None:
    """Print how many cells were read by an assumption, and of which columns."""
    from draincurve.reports.content.finding_text import assumed_text

    words = assumed_text(log)
    if words:
        say(f"{words} (`draincurve check --verbose` lists them)", wrap=True)


def print_notes(log: Log) -> None:
    """Print what a reader had to assume about a whole file, such as its encoding, and the columns not used."""
    for row in log.notes.iter_rows(named=True):
        if row["column"] is None:
            say(f"note: {row['source']}: {row['message']}", wrap=True)


def print_settings(log: Log) -> None:
    """Print the settings that would answer questions, as lines to paste into the settings file."""
    from draincurve.reports.content.settings_block import how_to_use, settings_block

    block = settings_block(log)
    if block:
        for line in ("", *how_to_use(block), *block[:MOST_SETTINGS]):
            say(line)
        if len(block) > MOST_SETTINGS:
            say(f"# and {len(block) - MOST_SETTINGS} more lines: --mend OUT.xlsx writes them all")


def decisions(log: Log) -> pl.DataFrame:
    """What is asked: units to inspect first, then the whole log, then rows by unit and day."""
    import polars as pl

    later = ~pl.col("message").str.contains("inspect")
    return log.asked.sort(later, pl.col("line").is_not_null(), "unit_id", "day", "line", maintain_order=True)


def print_findings(findings: pl.DataFrame, *, verbose: bool) -> None:
    """Print one line for each finding, or for the first ones unless `verbose`."""
    rows = _lines(findings, verbose=verbose)
    listed = rows if verbose else rows.head(MOST_ROWS)
    for row in listed.iter_rows(named=True):
        say(_line(row), wrap=True)
    more = rows.height - listed.height
    if more:
        say(f"and {more:,} more: --verbose lists them, --mend OUT.xlsx marks them in the log")


def print_held_back(held_back: pl.DataFrame) -> None:
    """Print one line for each row held back: its location, its cells and the reasons."""
    for row in held_back.iter_rows(named=True):
        places = {name: [row[name]] for name in ("line", "unit_id", "day")}
        say(_line({**row, **places, "kind": "held back", "message": row["reason"], "proposal": None}), wrap=True)


def _lines(findings: pl.DataFrame, *, verbose: bool) -> pl.DataFrame:
    """The findings as they are printed, one for each line, with lists of line, unit_id and day.

    A cell that several rows have alike is one line, unless `verbose`.
    """
    import polars as pl

    rows = _of_rows(findings)
    alike = pl.lit(not verbose) & (pl.col("line").count().over(*_ABOUT, "column", "value") >= FEWEST_ALIKE)
    own = pl.when(~alike).then(pl.int_range(pl.len())).alias("_own")
    return rows.group_by(*_ABOUT, "column", "value", own, maintain_order=True).agg(pl.col("line", "unit_id", "day"))


def _of_rows(findings: pl.DataFrame) -> pl.DataFrame:
    """The findings, of which those that a row has alike for several cells are one, with each of their columns once.

    What is about the whole file stays one for each value.
    """
    import polars as pl

    of_the_file = pl.when(pl.col("line").is_null()).then("value").alias("_of_the_file")
    return findings.group_by(*_ABOUT, "line", of_the_file, maintain_order=True).agg(
        pl.col("column").drop_nulls().unique(maintain_order=True).str.join(", "),
        pl.when(pl.struct("column", "value").n_unique() == 1).then(pl.col("value").first()),
        pl.col("unit_id", "day").first(),
    )


def _asked_text(log: Log) -> str:
    """How many rows are asked about, in how many questions and signs, and how many questions are about no row.

    Empty where there is no question.
    """
    rows, asked, signs = log.asked_rows, _of_rows(log.asked), _of_rows(log.stated_signs).height
    whole = asked.get_column("line").null_count()
    questions = asked.height - whole - signs
    kinds = [_counted(questions, "question")] if questions else []
    kinds += [f"{_counted(signs, 'sign')} of a fault"] if signs else []
    more = f" in {' and '.join(kinds)}" if signs or questions > rows else ""
    texts = [f"{_counted(rows, 'row')} asked about{more}"] if rows else []
    texts += [f"{_counted(whole, 'question')} about the whole log"] if whole else []
    return ", ".join(texts)


def _line(row: dict[str, Any]) -> str:
    """One line for a finding, of one row or of several; line, unit_id and day are lists."""
    from draincurve.reports.content.finding_text import cell_text, line_text

    lines, cell = row["line"], cell_text(row["column"], row["value"])
    perhaps = f" (perhaps {row['proposal']})" if row["proposal"] else ""
    if len(lines) > 1:
        units = list(dict.fromkeys(unit for unit in row["unit_id"] if unit is not None))
        places = _listing("line", lines) + (f", {_listing('unit', units)}" if units else "")
        location = f"{row['source']}: {cell} in {len(lines):,} rows ({places})"
    else:
        line_shown = "" if lines[0] is None else f" {line_text(lines[0], row['unit_id'][0], row['day'][0])}"
        location = ", ".join(part for part in (f"{row['source']}{line_shown}", cell) if part)
    return f"{row['kind']}: {location}: {row['message']}{perhaps}"


def _listing(word: str, items: list[Any]) -> str:
    """The first items with their word: lines 4, 9 and 2 more."""
    more = len(items) - MOST_NAMED
    named = ", ".join(map(str, items[:MOST_NAMED])) + (f" and {more:,} more" if more > 0 else "")
    return f"{word if len(items) == 1 else f'{word}s'} {named}"


def _counted(count: int, word: str) -> str:
    return f"{count:,} {word if count == 1 else f'{word}s'}"
