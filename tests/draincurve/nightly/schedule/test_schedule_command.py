"""Timer files with names as odd as a file system allows, read back by systemd itself, cron's rules and a shell."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from draincurve.cli import app
from draincurve.nightly.schedule.crontab import crontab_line, crontab_text
from draincurve.nightly.schedule.night_job import NightJob, night_job
from draincurve.nightly.schedule.systemd_units import (
    SERVICE,
    TIMER,
    command_line,
    on_calendar,
    quoted,
    quoted_list,
    service_unit,
    timer_unit,
)
from draincurve.schemas.delivery_settings import DAYS, ScheduleSettings
from draincurve.schemas.errors import SettingsError
from draincurve.schemas.nightly_settings import read_nightly

ODD_NAMES = (
    "plain",
    "two words",
    "50%n off %%",
    "qu\"ote's",
    "back\\slash \\x41",
    "$HOME ${PATH}",
    "Gabelöl ش 🏁",
    "#;&|(*)",
)

needs_systemd = pytest.mark.skipif(
    shutil.which("systemd-analyze") is None, reason="systemd-analyze is not installed (Debian package systemd)"
)
printable = st.text(st.characters(exclude_categories=("C", "Z")) | st.just(" "), min_size=1, max_size=20)


def settings_file(folder: Path, more: str = "") -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "nightly.toml"
    path.write_text(f'[sources]\nlog = "drains.csv"\n{more}', encoding="utf-8")
    return path


def job_in(folder: Path, more: str = "") -> NightJob:
    return night_job(read_nightly(settings_file(folder, more)))


def values(unit: str, key: str) -> list[str]:
    return re.findall(rf"^{key}=(.*)$", unit, re.MULTILINE)


def verified(*files: Path) -> str:
    found = subprocess.run(
        ["systemd-analyze", "verify", *map(str, files)], capture_output=True, text=True, timeout=60, check=False
    )
    assert found.returncode == 0, found.stderr
    return found.stdout + found.stderr


@needs_systemd
@pytest.mark.parametrize("name", ODD_NAMES)
def test_systemd_takes_the_files(name, tmp_path):
    folder = tmp_path / name
    job = job_in(folder)
    program = folder / "bin" / "draincurve"
    program.parent.mkdir()
    program.write_text("#!/bin/sh\n")
    program.chmod(0o755)
    job = replace(job, command=(str(program), *job.command[1:]), writes=(folder / "out",))
    (tmp_path / SERVICE).write_text(service_unit(job), encoding="utf-8")
    (tmp_path / TIMER).write_text(timer_unit(job.schedule), encoding="utf-8")
    assert verified(tmp_path / SERVICE, tmp_path / TIMER) == "", "no warning either"


@needs_systemd
def test_systemd_would_have_told_a_wrong_escape(tmp_path):
    unit = service_unit(replace(job_in(tmp_path), command=("/no such/draincurve",)))
    (tmp_path / SERVICE).write_text(unit)
    found = subprocess.run(
        ["systemd-analyze", "verify", str(tmp_path / SERVICE)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert "/no such/draincurve is not executable" in found.stderr


@needs_systemd
@pytest.mark.parametrize("more", ["", '[delivery.webhook]\nurl = "https://hooks.team.example/"\n'])
def test_systemd_calls_the_service_well_protected(more, tmp_path):
    (tmp_path / SERVICE).write_text(service_unit(replace(job_in(tmp_path, more), user="nobody")))
    found = subprocess.run(
        ["systemd-analyze", "security", "--offline=yes", "--threshold=25", str(tmp_path / SERVICE)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert found.returncode == 0, found.stdout[-300:]  # at most 2.5 of 10


@needs_systemd
@pytest.mark.parametrize(
    ("schedule", "normal"),
    [
        (ScheduleSettings(), "*-*-* 03:30:00"),
        (ScheduleSettings("23:59", ("Sun", "Mon")), "Mon,Sun *-*-* 23:59:00"),
        (ScheduleSettings("00:00", DAYS[:5]), "Mon..Fri *-*-* 00:00:00"),
    ],
)
def test_systemd_understands_the_time(schedule, normal):
    found = subprocess.run(
        ["systemd-analyze", "calendar", on_calendar(schedule)], capture_output=True, text=True, timeout=60, check=True
    )
    assert re.search(r"Normalized form: (.*)", found.stdout)[1] == normal


@given(st.lists(printable, min_size=1, max_size=4))
def test_words_come_back_as_they_were(words):
    # inside double quotes a shell reads these escapes as systemd.syntax(7) does; "%%" is systemd's alone
    assert shlex.split(quoted_list(words).replace("%%", "%")) == words
    assert all(re.fullmatch(r"(?:[^%]|%%)*", quoted(word)) for word in words)
    assert command_line(words).startswith(':"')


@given(st.lists(printable, min_size=1, max_size=3))
def test_cron_and_the_shell_hand_over_what_was_meant(words):
    job = NightJob(
        ("/usr/bin/printf", "%s\\0", *words), (), (), (), Path("/x.env"), False, "bench", ScheduleSettings()
    )
    line = crontab_line(job)
    assert "\n" not in line
    minute, hour, day, month, weekday, command = line.split(" ", 5)
    assert (minute, hour, day, month, weekday) == ("30", "3", "*", "*", "*")
    # crontab(5): a per cent sign ends the command unless a backslash stands before it, which cron takes away
    assert re.search(r"(?<!\\)%", command) is None
    ran = subprocess.run(["/bin/sh", "-c", command.replace("\\%", "%")], capture_output=True, timeout=20, check=True)
    assert ran.stdout.decode().split("\0")[:-1] == words


def test_the_time_for_cron():
    job = NightJob(
        ("/d",), (), (), (), Path("/x.env"), False, "bench", ScheduleSettings("23:05", ("Sat", "Sun", "Mon"))
    )
    assert crontab_line(job) == "5 23 * * 0,1,6 /d"


def test_the_service_may_write_its_output_and_nothing_else(tmp_path):
    more = '[output]\nfolder = "out"\n[delivery.metrics]\nfile = "/var/lib/metrics/draincurve.prom"\n'
    unit = service_unit(job_in(tmp_path, more))
    assert values(unit, "ReadWritePaths") == [f'"{tmp_path}/out" "/var/lib/metrics"']
    assert values(unit, "ProtectSystem") == ["strict"]
    assert values(unit, "NoNewPrivileges") == ["yes"]
    assert values(unit, "CapabilityBoundingSet") == [""]
    assert values(unit, "MemoryMax") == ["2048M"]
    assert values(unit, "SuccessExitStatus") == ["3"]


def test_the_network_only_where_something_goes_over_it(tmp_path):
    alone = service_unit(job_in(tmp_path))
    assert values(alone, "RestrictAddressFamilies") == ["AF_UNIX"]
    assert values(alone, "PrivateNetwork") == ["yes"]
    mail = '[delivery.mail]\nhost = "m.team.example"\nsender = "a@team.example"\nrecipients = ["b@team.example"]\n'
    unit = service_unit(job_in(tmp_path, mail))
    assert values(unit, "RestrictAddressFamilies") == ["AF_UNIX AF_INET AF_INET6 AF_NETLINK"]
    assert values(unit, "PrivateNetwork") == []
    assert "network-online.target" in unit


def test_homes_and_temporary_files_are_hidden_unless_something_lies_there(tmp_path):
    job = replace(job_in(tmp_path), command=("/opt/draincurve",), reads=(Path("/srv/a"),), writes=(Path("/srv/b"),))
    assert values(service_unit(job), "ProtectHome") == ["yes"]
    assert values(service_unit(job), "PrivateTmp") == ["yes"]
    home = service_unit(replace(job, writes=(Path("/home/bench/reports"),)))
    assert values(home, "ProtectHome") == ["read-only"]
    assert values(service_unit(replace(job, reads=(Path("/var/tmp/log.csv"),))), "PrivateTmp") == ["no"]
    (tmp_path / "link").symlink_to("/root")
    assert values(service_unit(replace(job, reads=(tmp_path / "link" / "log.csv",))), "ProtectHome") == ["read-only"]


def test_what_the_night_reads_and_needs(tmp_path):
    more = (
        '[delivery.mail]\nhost = "localhost"\nsender = "a@team.example"\nrecipients = ["b@team.example"]\n'
        'user_env = "MAIL_USER"\npassword_file = "secrets/mail"\nca_file = "/etc/own.pem"\n'
    )
    path = settings_file(tmp_path, more)
    path.write_text(path.read_text().replace("drains.csv", "logs/*/drains*.csv"))
    job = night_job(read_nightly(path))
    assert {tmp_path / "logs", tmp_path / "secrets" / "mail", Path("/etc/own.pem"), path} <= set(job.reads)
    assert job.variables == ("MAIL_USER",)
    unit = service_unit(job)
    assert f"EnvironmentFile=-{tmp_path}/nightly.env" in unit
    assert "MAIL_USER must be set" in crontab_text(job)


def test_sources_that_are_databases(tmp_path):
    path = settings_file(tmp_path)
    path.write_text(
        '[sources]\nlog = "postgresql://bench@db.team.example/shop#drains"\nunits = "sqlite:shop.db#units"\n'
    )
    job = night_job(read_nightly(path))
    assert tmp_path / "shop.db" in job.reads
    assert not any("postgresql" in str(path) for path in job.paths)
    assert (job.networked, job.variables) == (True, ("PGPASSWORD",))
    path.write_text('[sources]\nlog = "sqlite:///srv/two%20words.db"\n')
    job = night_job(read_nightly(path))
    assert Path("/srv/two words.db") in job.reads
    assert not job.networked
    path.write_text('[sources]\nlog = "drains.csv"\n[publish]\naddress = "postgresql://bench@db.team.example/shop"\n')
    job = night_job(read_nightly(path))
    assert (job.networked, job.variables) == (True, ("PGPASSWORD",))


def test_names_that_no_timer_file_can_hold_and_weeks_without_days(tmp_path):
    with pytest.raises(SettingsError, match="control character"):
        job_in(tmp_path / "line\nend")
    with pytest.raises(SettingsError, match="name a day"):
        job_in(tmp_path, "[schedule]\ndays = []\n")


def test_the_command_prints_and_writes_the_same(tmp_path):
    path = settings_file(tmp_path / "two words")
    printed = CliRunner().invoke(app, ["schedule", str(path)])
    assert printed.exit_code == 0
    written = CliRunner().invoke(app, ["schedule", str(path), "--out", str(tmp_path / "timer")])
    assert written.exit_code == 0
    for file in (tmp_path / "timer").iterdir():
        assert file.read_text() in printed.stdout
        assert str(file) in written.stdout
    assert sorted(file.name for file in (tmp_path / "timer").iterdir()) == [
        "draincurve-nightly.crontab",
        SERVICE,
        TIMER,
    ]
    assert "make first: install -d" in printed.stderr
    failed = CliRunner().invoke(app, ["schedule", str(tmp_path / "gone.toml")])
    assert failed.exit_code == 1
    assert len(failed.stderr.strip().splitlines()) == 1


def test_it_loads_none_of_the_heavy_libraries(tmp_path):
    code = (
        "import sys; from typer.testing import CliRunner; from draincurve.cli import app; "
        f"assert CliRunner().invoke(app, ['schedule', {str(settings_file(tmp_path))!r}]).exit_code == 0; "
        "print([name for name in ('numpy', 'polars', 'pandas', 'pandera', 'matplotlib', 'numba', 'scipy') "
        "if name in sys.modules])"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True, env=os.environ
    )
    assert ran.stdout.strip().endswith("[]")
