"""The `draincurve` command: which commands there are.

Exit status: 0 done; 1 failed, with one clear line on standard error and nothing half-written; 2 wrong usage;
3 done, but rows were held back. Heavy libraries are imported inside the commands, so that help comes at once.
"""

from __future__ import annotations

import atexit
import gc
import os
import signal
from collections.abc import Callable
from types import FrameType
from typing import NoReturn

import typer

from draincurve.commands.add import add
from draincurve.commands.backtest import backtest
from draincurve.commands.bench_card import bench_card
from draincurve.commands.check import check
from draincurve.commands.demo import demo
from draincurve.commands.history import history
from draincurve.commands.nightly import nightly
from draincurve.commands.oils import oils
from draincurve.commands.plan import plan
from draincurve.commands.schedule import schedule
from draincurve.commands.simulate import simulate
from draincurve.commands.springs import springs
from draincurve.commands.workbook import workbook

# Threads of the compiled fit that wait must not spin: on a shared machine that costs more than it saves.
os.environ.setdefault("OMP_WAIT_POLICY", "PASSIVE")

app = typer.Typer(
    help="From a service log to how many hours each suspension unit may run before its oil is no longer fit.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,  # rich takes as long to load as all else that --help needs
)

COMMANDS: dict[Callable[..., None], str] = {
    check: "What a log holds back, asks and assumes.",
    add: "Add one drain to a log; asks first where `check` would.",
    plan: "The main job: each unit's next service, with a report.",
    springs: "Does a spring choice shed more debris?",
    backtest: "How predictions as of earlier days would have held.",
    oils: "Viscosity and ISO grade of each oil; misleading names.",
    nightly: "The batch run: a report for each site, delivered.",
    history: "A unit's interval and due date over the nightly runs.",
    schedule: "A systemd timer, or a line for cron, for `nightly`.",
    workbook: "An entry workbook for the bench, with drop-downs.",
    bench_card: "A card for the bench: scales, cautions, room to write.",
    demo: "The main job on the sample fleet, an invented race team.",
    simulate: "An invented fleet, with its truth beside it.",
}
"""Each command with its line in `draincurve --help`, in the order of that list."""

for command, line in COMMANDS.items():
    app.command(short_help=line)(command)


def main() -> None:
    """Entry point of the `draincurve` command."""
    # A run is short and makes few cycles; looking for them, above all while libraries load, costs more than it frees.
    gc.set_threshold(1_000_000, 50, 50)
    atexit.register(gc.freeze)
    signal.signal(signal.SIGTERM, _stop)
    app()


def _stop(number: int, _: FrameType | None) -> NoReturn:
    """SIGTERM ends a command as Ctrl-C does: with one line, and nothing half-written."""
    raise KeyboardInterrupt(signal.Signals(number).name)
