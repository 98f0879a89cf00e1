"""`draincurve add`: one drain into a log, from the bench."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

import typer

from draincurve.commands.command_line import AsOf, Quiet, SettingsFile, day_given, one_clear_line

Cell = str | None


def add(
    log: Annotated[str, typer.Argument(metavar="LOG", help="A CSV file, or a table such as sqlite:shop.db#drains.")],
    unit: Annotated[Cell, typer.Option("--unit", help="The fork leg, shock or cartridge that was drained.")] = None,
    date: Annotated[Cell, typer.Option("--date", help="Day of the drain, such as 2026-06-19.")] = None,
    hours: Annotated[Cell, typer.Option("--hours", help="Hours run on the oil: 12.5, 1h30, '750 min'.")] = None,
    meter: Annotated[Cell, typer.Option("--meter", help="Reading of the hour meter.")] = None,
    grade: Annotated[Cell, typer.Option("--grade", help="The oil now drained.")] = None,
    filled: Annotated[Cell, typer.Option("--filled", help="Oil that was put in, ml or with its unit.")] = None,
    drained: Annotated[Cell, typer.Option("--drained", help="Oil that came out, ml or with its unit.")] = None,
    settle: Annotated[
        Cell, typer.Option("--settle", help="Time the sample stood before it was rated, h or with its unit.")
    ] = None,
    colour: Annotated[Cell, typer.Option("--colour", help="Colour rating, 1 to 5, or a range such as 2-3.")] = None,
    debris: Annotated[Cell, typer.Option("--debris", help="Debris rating, 1 to 5, or a range.")] = None,
    spring: Annotated[Cell, typer.Option("--spring", help="The spring in the unit.")] = None,
    spring_hours: Annotated[Cell, typer.Option("--spring-hours", help="Hours run on this spring.")] = None,
    rider: Annotated[Cell, typer.Option("--rider", help="Who rode on this fill.")] = None,
    rated_by: Annotated[Cell, typer.Option("--rated-by", help="Who rated the oil.")] = None,
    surface: Annotated[Cell, typer.Option("--surface", help="Ground that was ridden.")] = None,
    site: Annotated[Cell, typer.Option("--site", help="Workshop or base of the unit.")] = None,
    machine: Annotated[Cell, typer.Option("--machine", help="Motorcycle the unit was in.")] = None,
    chamber: Annotated[Cell, typer.Option("--chamber", help="Inner, outer or single.")] = None,
    method: Annotated[Cell, typer.Option("--method", help="Poured, pumped through or stripped.")] = None,
    kind: Annotated[Cell, typer.Option("--kind", help="oil, rebuild or top-up.")] = None,
    new_parts: Annotated[Cell, typer.Option("--new-parts", help="Parts fitted at this service.")] = None,
    note: Annotated[Cell, typer.Option("--note", help="Anything else worth saying.")] = None,
    milky: Annotated[Cell, typer.Option("--milky", help="Water in the oil: yes or no.")] = None,
    burnt: Annotated[Cell, typer.Option("--burnt", help="The oil smells burnt: yes or no.")] = None,
    leak: Annotated[Cell, typer.Option("--leak", help="The unit leaks: yes or no.")] = None,
    new: Annotated[bool, typer.Option("--new", help="Begin the log if it is not there.")] = False,
    add_columns: Annotated[bool, typer.Option("--add-columns", help="Add columns that the log lacks.")] = False,
    settings: SettingsFile = None,
    as_of: AsOf = None,
    quiet: Quiet = False,
) -> None:
    """Add one drain to a log, unless `check` would hold it back."""
    given = {
        "unit_id": unit,
        "drained_on": date,
        "oil_hours": hours,
        "meter_hours": meter,
        "oil_grade": grade,
        "filled_ml": filled,
        "drained_ml": drained,
        "settle_hours": settle,
        "colour_rating": colour,
        "debris_rating": debris,
        "spring_type": spring,
        "spring_hours": spring_hours,
        "rider": rider,
        "rated_by": rated_by,
        "surface": surface,
        "site": site,
        "machine": machine,
        "chamber": chamber,
        "drain_method": method,
        "service_kind": kind,
        "new_parts": new_parts,
        "note": note,
        "milky": milky,
        "burnt": burnt,
        "leak": leak,
    }
    day = day_given(as_of) or datetime.now().astimezone().date()
    with one_clear_line():
        from draincurve.log_entry.add_drain import add_drain
        from draincurve.log_entry.drain_entry import EntryRules, drain_entry
        from draincurve.schemas.settings import read_settings

        rules = EntryRules(read_settings(settings), day, new_log=new, add_columns=add_columns)
        added = add_drain(log, drain_entry(given), rules=rules)
        if not quiet:
            typer.echo(f"added to {added.location}: {added.written}")
        for question in added.questions:
            typer.echo(f"question: {question}", err=True)
