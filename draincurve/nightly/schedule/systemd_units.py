"""A systemd service with only the rights that its work needs, and the timer that starts it.

The restrictions are described in systemd.exec(5); the rules of quoting in systemd.syntax(7), "Quoting", and
systemd.unit(5), "Specifiers".
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from draincurve.nightly.schedule.night_job import NightJob
from draincurve.schemas.delivery_settings import DAYS, ScheduleSettings

SERVICE, TIMER = "draincurve-nightly.service", "draincurve-nightly.timer"

_HOMES = (Path("/home"), Path("/root"), Path("/run/user"))
_TEMPORARY = (Path("/tmp"), Path("/var/tmp"))

_HARDENING = """\
NoNewPrivileges=yes
CapabilityBoundingSet=
AmbientCapabilities=
PrivateDevices=yes
ProtectKernelTunables=yes
ProtectKernelModules=yes
ProtectKernelLogs=yes
ProtectControlGroups=yes
ProtectClock=yes
ProtectHostname=yes
ProtectProc=invisible
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
LockPersonality=yes
RemoveIPC=yes
KeyringMode=private
SystemCallArchitectures=native
SystemCallFilter=@system-service
SystemCallFilter=~@privileged
SystemCallErrorNumber=EPERM"""
"""Without MemoryDenyWriteExecute, because the fit is compiled at run time."""


def service_unit(job: NightJob) -> str:
    """The service: one night, which may write into its output folders and nowhere else."""
    longest, memory = job.schedule.longest_minutes, job.schedule.memory_mb
    secrets = f"# holds {', '.join(job.variables)}; owned by root, mode 0600\n" if job.variables else ""
    secrets += f"EnvironmentFile=-{escaped(str(job.variables_file))}\n" if job.variables else ""
    return f"""\
[Unit]
Description=Next oil change of every suspension unit, from the service log
{"Wants=network-online.target" if job.networked else "# reads and writes on this machine only"}
After=local-fs.target{" network-online.target" if job.networked else ""}

[Service]
Type=oneshot
User={escaped(job.user)}
ExecStart={command_line(job.command)}
# 3: done, but rows were held back
SuccessExitStatus=3
TimeoutStartSec={longest}min
{secrets}CacheDirectory=draincurve
# compiled code and fonts, since the program's own folder is read-only; %C is systemd's folder for caches
Environment=NUMBA_CACHE_DIR=%C/draincurve/compiled MPLCONFIGDIR=%C/draincurve/fonts
Nice=10
MemoryMax={memory}M
MemorySwapMax=0
TasksMax=256
ProtectSystem=strict
ReadWritePaths={quoted_list(str(folder) for folder in job.writes)}
ProtectHome={"read-only" if _any_below(job, _HOMES) else "yes"}
PrivateTmp={"no" if _any_below(job, _TEMPORARY) else "yes"}
{_network(job)}
{_HARDENING}
"""


def timer_unit(schedule: ScheduleSettings) -> str:
    """The timer. A night missed while the machine was off runs when it is on again."""
    return f"""\
[Unit]
Description=Every night: next oil change of every suspension unit

[Timer]
OnCalendar={on_calendar(schedule)}
Persistent=true
RandomizedDelaySec={schedule.random_delay_minutes}min
AccuracySec=1min
Unit={SERVICE}

[Install]
WantedBy=timers.target
"""


def on_calendar(schedule: ScheduleSettings) -> str:
    """The time in the form of systemd.time(7), "Calendar events"."""
    chosen = [day for day in DAYS if day in schedule.days]
    days = "" if len(chosen) == len(DAYS) else f"{','.join(chosen)} "
    return f"{days}*-*-* {schedule.at}:00"


def quoted(word: str) -> str:
    """One word of a list or a command line, quoted and escaped."""
    escaped = word.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%")
    return f'"{escaped}"'


def quoted_list(words: Iterable[str]) -> str:
    """Quoted words, separated by spaces."""
    return " ".join(quoted(word) for word in words)


def escaped(text: str) -> str:
    """A value that systemd takes whole, so that it is escaped but not quoted."""
    return text.replace("%", "%%")


def command_line(command: Sequence[str]) -> str:
    """The value of ExecStart=. The colon turns off the substitution of variables.

    systemd cannot start a program whose name has a quotation mark or a backslash, so env(1) starts such a one.
    """
    refused = any(mark in command[0] for mark in "\"'\\")
    return f":{quoted_list(['/usr/bin/env', *command] if refused else command)}"


def _any_below(job: NightJob, roots: tuple[Path, ...]) -> bool:
    """Whether the night uses anything below these folders, links followed or not."""
    used = [*job.paths, *(path.resolve() for path in job.paths)]
    return any(path.is_relative_to(root) for path in used for root in roots)


def _network(job: NightJob) -> str:
    if job.networked:
        return "RestrictAddressFamilies=AF_UNIX AF_INET AF_INET6 AF_NETLINK"
    return "RestrictAddressFamilies=AF_UNIX\nPrivateNetwork=yes"
