"""`draincurve add`: one drain into a log, from the bench."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from inspect import Parameter, signature
from typing import Annotated

import typer

from draincurve.commands.command_line import AsOf, Quiet, SettingsFile, day_given, errors_on_one_line, say, today
from draincurve.schemas.channels import CHANNELS

_CELLS = (
    ("unit_id", "--unit", "The fork leg, shock or cartridge that was drained."),
    ("drained_on", "--date", "Day of the drain: 2026-06-19, today or yesterday."),
    ("oil_hours", "--hours", "Hours run on the oil: 12.5, 1h30, '750 min'."),
    ("meter_hours", "--meter", "Reading of the hour meter."),
    ("oil_grade", "--grade", "The oil now drained."),
    ("filled_ml", "--filled", "Oil that was put in, ml or with its unit."),
    ("drained_ml", "--drained", "Oil that came out, ml or with its unit."),
    ("settle_hours", "--settle", "Time the sample stood before it was rated, h or with its unit."),
    *(
        (
            channel.rating,
            channel.option,
            f"{channel.title} rating, 1 to 5, or a range{' such as 2-3' if channel is CHANNELS[0] else ''}.",
        )
        for channel in CHANNELS
    ),
    ("spring_type", "--spring", "The spring in the unit."),
    ("spring_hours", "--spring-hours", "Hours run on this spring."),
    ("rider", "--rider", "Who rode on this fill."),
    ("rated_by", "--rated-by", "Who rated the oil."),
    ("surface", "--surface", "Ground that was ridden."),
    ("site", "--site", "Workshop or base of the unit."),
    ("machine", "--machine", "Motorcycle the unit was in."),
    ("chamber", "--chamber", "Inner, outer or single."),
    ("drain_method", "--method", "Poured, pumped through or stripped."),
    ("service_kind", "--kind", "oil, rebuild or top-up."),
    ("new_parts", "--new-parts", "Parts fitted at this service."),
    ("note", "--note", "Anything else worth saying."),
    ("milky", "--milky", "Water in the oil: yes or no."),
    ("burnt", "--burnt", "The oil smells burnt: yes or no."),
    ("leak", "--leak", "The unit leaks: yes or no."),
    ("confirmed", "--confirmed", "You have looked again and the row is right as given: yes or no."),
)
"""The contract's column, its option, and the option's help."""


def _with_an_option_for_each_cell(command: Callable[..., None]) -> Callable[..., None]:
    """The command with the options of _CELLS after its first parameter, in place of its keyword `cells`."""
    signature_of_command = signature(command, eval_str=True)
    first, *others, _ = signature_of_command.parameters.values()
    options = [
        Parameter(
            column,
            Parameter.KEYWORD_ONLY,
            default=None,
            annotation=Annotated[str | None, typer.Option(option, help=meaning)],
        )
        for column, option, meaning in _CELLS
    ]
    command.__dict__["__signature__"] = signature_of_command.replace(parameters=[first, *options, *others])
    return command


@_with_an_option_for_each_cell
def add(
    log: Annotated[str, typer.Argument(metavar="LOG", help="A CSV file, or a table such as sqlite:shop.db#drains.")],
    *,
    new: Annotated[bool, typer.Option("--new", help="Begin the log if it is not there.")] = False,
    add_columns: Annotated[bool, typer.Option("--add-columns", help="Add columns that the log lacks.")] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Add the drain even if it raises a question.")] = False,
    settings: SettingsFile = None,
    as_of: AsOf = None,
    quiet: Quiet = False,
    **cells: str | None,
) -> None:
    """Add one drain to a log, unless `check` would hold it back; ask first where `check` would ask."""
    day = day_given(as_of) or today()
    with errors_on_one_line():
        from draincurve.log_entry.add_drain import add_drain
        from draincurve.log_entry.drain_entry import AskedError, EntryRules, day_by_name, drain_entry
        from draincurve.schemas.settings import read_settings

        cells["drained_on"] = day_by_name(cells["drained_on"], day)
        rules = EntryRules(read_settings(settings), day, new_log=new, add_columns=add_columns)
        entry = drain_entry(cells)
        answered: tuple[str, ...] = ()
        try:
            added = add_drain(log, entry, rules=rules)
        except AskedError as asked:
            if not yes and (quiet or not _answered(asked.questions)):
                raise
            answered = asked.questions if yes else ()
            rules = replace(rules, despite_questions=True, as_confirmed=asked.about_row)
            added = add_drain(log, entry, rules=rules)
        if not quiet:
            say(f"added to {added.location}: {added.written}")
            for question in dict.fromkeys((*answered, *added.questions)):
                say(f"question: {question}", error=True)


def _answered(questions: tuple[str, ...]) -> bool:
    """Ask on a terminal whether to write the drain all the same; nobody is asked elsewhere."""
    if not _on_a_terminal():
        return False
    for question in questions:
        say(f"question: {question}", error=True)
    return typer.confirm("Add the drain as it is?", err=True)


def _on_a_terminal() -> bool:
    return sys.stdin.isatty() and sys.stderr.isatty()
