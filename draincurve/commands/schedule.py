"""`draincurve schedule`: timer files for the system scheduler."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from draincurve.commands.command_line import Quiet, errors_on_one_line, say

if TYPE_CHECKING:
    from draincurve.nightly.schedule.night_job import NightJob


def schedule(
    settings: Annotated[Path, typer.Argument(metavar="SETTINGS", help="Settings of the nightly run, a TOML file.")],
    out: Annotated[Path | None, typer.Option("--out", help="Folder to write the files into.")] = None,
    quiet: Quiet = False,
) -> None:
    """A systemd service with its timer, and a line for cron, that start the nightly run."""
    with errors_on_one_line():
        from draincurve.nightly.schedule.crontab import crontab_text
        from draincurve.nightly.schedule.night_job import night_job
        from draincurve.nightly.schedule.systemd_units import SERVICE, TIMER, service_unit, timer_unit
        from draincurve.schemas.nightly_settings import read_nightly

        job = night_job(read_nightly(settings))
        files = {
            SERVICE: service_unit(job),
            TIMER: timer_unit(job.schedule),
            "draincurve-nightly.crontab": crontab_text(job),
        }
        if out is None:
            for name, content in files.items():
                for line in (f"# {name}", *content.split("\n")):
                    say(line)
        else:
            _write(files, out, quiet=quiet)
        if not quiet:
            for line in _steps(job, SERVICE, timer=TIMER):
                say(line, error=True)


def _write(files: dict[str, str], out: Path, *, quiet: bool) -> None:
    from draincurve.pipeline.atomic_file import write_atomically

    out.mkdir(parents=True, exist_ok=True)
    for name, content in files.items():
        write_atomically(out / name, content.encode("utf-8", "surrogateescape"), mode=0o644)
        if not quiet:
            say(str(out / name))


def _steps(job: NightJob, service: str, *, timer: str) -> list[str]:
    """What to do with the files, one line for each step."""
    import shlex

    folders = [f"make first: install -d -o {job.user} {shlex.quote(str(folder))}" for folder in job.missing]
    return [
        *folders,
        f"systemd: copy {service} and {timer} to /etc/systemd/system, then systemctl enable --now {timer}",
        "cron instead: the crontab line, for the user that is named there",
    ]
