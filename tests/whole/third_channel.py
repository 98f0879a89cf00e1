"""Runs commands of `draincurve` in a process that has a third rated channel, smell: one more entry, and nothing else.

python third_channel.py FOLDER COMMANDS: COMMANDS is a JSON list of command lines. They run in FOLDER, beside three
invented logs of the same drains: drains.csv and by_name.csv rate colour and smell, without_smell.csv colour only.
Prints a JSON list of exit statuses and outputs.
"""

from __future__ import annotations

import json
import os
import sys
from contextlib import nullcontext
from pathlib import Path

from draincurve.schemas import channels

loaded = [name for name, module in sys.modules.items() if hasattr(module, "CHANNELS") and module is not channels]
if loaded:
    raise SystemExit(f"loaded before the third channel was there: {', '.join(loaded)}")
channels.CHANNELS = (
    *channels.CHANNELS,
    channels.Channel(
        name="smell",
        title="Smell",
        scale=("as new", "faintly sour", "sour", "sharp", "foul"),
        headers="nose, odour",
        shop_word=("rank", "5"),
        how_to_look=("Smell the sample as soon as it is drained.",),
        high_rating=("spoils its smell", "spoiling it"),
        default_limit=3,
        sign=channels.Sign("foul oil", 5),
    ),
)


def write_logs() -> None:
    """A fleet whose smell is past its limit long before its colour; Nose is one of its headings, Smell its name."""
    import numpy as np

    from draincurve.pipeline.simulation.fleet_files import write_fleet
    from draincurve.pipeline.simulation.fleet_plan import FleetPlan, Level, Rater
    from draincurve.pipeline.simulation.fleet_tables import simulate_fleet
    from draincurve.pipeline.simulation.scenarios import curve

    plan = FleetPlan(
        name="nosy",
        units=5,
        drains=45,
        channels=(
            curve("colour", 40.0, hours_slope=2.2, unit_sd=0.3),
            curve("smell", 6.0, hours_slope=2.6, unit_sd=0.4),
        ),
        springs=(Level("Plain 46"), Level("Stepped 46", {"smell": 0.7})),
        raters=(Rater("KB"), Rater("TW", {"smell": 0.5})),
        fill_hours=9.0,
        hours_log_sd=0.5,
    )
    drains = simulate_fleet(plan, np.random.default_rng(20260620)).tables["drains"]
    tables = {
        "drains": drains.rename({"smell_rating": "Nose"}),
        "by_name": drains.rename({"smell_rating": "Smell"}),
        "without_smell": drains.drop("smell_rating"),
    }
    write_fleet(tables, Path(), kind="csv")


def main() -> None:
    """Runs the commands one after the other; of the plan without the third channel only its tables are written."""
    import pytest
    from small_logs import write_tables_and_opening
    from small_trees import small_trees
    from typer.testing import CliRunner

    from draincurve.cli import app
    from draincurve.reports.output import report_files

    def run(command: list[str]) -> tuple[int, str]:
        with pytest.MonkeyPatch.context() as patch:
            if "plan_without" in command:
                patch.setattr(report_files, "write_files", write_tables_and_opening)
            with small_trees() if command[0] == "backtest" else nullcontext():
                ran = CliRunner().invoke(app, command)
        return ran.exit_code, ran.output

    os.chdir(sys.argv[1])
    write_logs()
    print(json.dumps([run(command) for command in json.loads(sys.argv[2])]))


if __name__ == "__main__":
    main()
