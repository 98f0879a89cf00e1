"""A PostgreSQL server of the tests' own: in a temporary folder, on a free loopback port, gone at the end."""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from urllib.parse import quote

import pytest

from draincurve.pipeline.reading.sources import SourceAddress, source_address

USER = "bench"
PASSWORD = "dregs&Oil/%41:@#Zq7 ä"
"""Every letter that an address, a start-up option or a password file could stumble over."""

WHY_NOT = "PostgreSQL is not installed (Debian: apt-get install postgresql), so nothing can be read from it"


_NUMBERS = count(1)


@dataclass(frozen=True)
class Running:
    """A server. address : of a database of it, without the password."""

    binaries: Path
    folder: Path
    port: int

    def address(self, database: str = "postgres", user: str = USER) -> str:
        return f"postgresql://{user}@127.0.0.1:{self.port}/{database}"

    def socket_address(self, database: str = "postgres", user: str = USER) -> str:
        return f"postgresql://{user}@{quote(str(self.folder), safe='')}:{self.port}/{database}"

    def run(self, script: str, database: str = "postgres") -> None:
        """SQL, by the server's own program."""
        words = [str(self.binaries / "psql"), "-X", "-q", "-v", "ON_ERROR_STOP=1", "-h", "127.0.0.1"]
        words += ["-p", str(self.port), "-U", USER, "-d", database]
        done = subprocess.run(
            words,
            input=script,
            text=True,
            capture_output=True,
            env=os.environ | {"PGPASSWORD": PASSWORD},
            check=False,
        )
        assert done.returncode == 0, done.stderr


def _binaries() -> Path | None:
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: float(path.parts[-3]))
    on_path = shutil.which("initdb")
    return found[-1].parent if found else Path(on_path).parent if on_path else None


def _owner() -> dict:
    """Who the server runs as: never root, which it refuses."""
    if os.getuid() != 0:
        return {}
    try:
        owner = pwd.getpwnam("postgres")
    except KeyError:
        pytest.skip("there is no user postgres to run PostgreSQL as, and it refuses to run as root")
    return {"user": owner.pw_uid, "group": owner.pw_gid, "extra_groups": []}


def _free_port() -> int:
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        return int(door.getsockname()[1])


def _do(words: list[str], owner: dict, folder: Path) -> subprocess.CompletedProcess:
    return subprocess.run(words, **owner, cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[Running]:
    """A running server, one for each process of the tests; skipped where PostgreSQL cannot be had."""
    with running_server() as running:
        yield running


@contextmanager
def running_server() -> Iterator[Running]:
    """The same for scripts."""
    binaries = _binaries()
    if binaries is None:
        pytest.skip(WHY_NOT)
    owner = _owner()
    folder = Path(tempfile.mkdtemp(prefix="pg-"))
    data, secret = folder / "data", folder / "password"
    try:
        secret.write_text(PASSWORD + "\n", encoding="utf-8")
        if owner:
            for path in (folder, secret):
                os.chown(path, owner["user"], owner["group"])
        made = _do(
            [str(binaries / "initdb"), "-D", str(data), "-U", USER, f"--pwfile={secret}", "--auth=scram-sha-256",
             "--encoding=UTF8", "--locale=C.UTF-8", "--no-sync"],
            owner, folder,
        )  # fmt: skip
        assert made.returncode == 0, made.stdout
        running = _started(binaries, folder, data, owner)
        try:
            yield running
        finally:
            _do([str(binaries / "pg_ctl"), "-D", str(data), "-m", "immediate", "-w", "stop"], owner, folder)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _started(binaries: Path, folder: Path, data: Path, owner: dict) -> Running:
    for _ in range(3):  # between looking for a free port and taking it somebody else may have taken it
        port = _free_port()
        options = f"-p {port} -c listen_addresses=127.0.0.1 -c unix_socket_directories={folder} -c fsync=off"
        log = folder / "log"
        words = [str(binaries / "pg_ctl"), "-D", str(data), "-l", str(log), "-w", "-t", "60", "-o", options, "start"]
        started = subprocess.run(words, **owner, cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        if started.returncode == 0:
            return Running(binaries, folder, port)
    raise AssertionError(log.read_text(encoding="utf-8", errors="replace"))


@pytest.fixture
def postgresql_shop(
    postgresql_server: Running, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Callable[..., SourceAddress]]:
    """Makes a database of its own; runs a script in it, and returns the address of a part of it."""
    for name in ("PGHOST", "PGPORT", "PGDATABASE", "PGUSER", "PGPASSFILE", "PGTZ"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("PGPASSWORD", PASSWORD)
    name = f"shop{next(_NUMBERS)}"
    postgresql_server.run(f"CREATE DATABASE {name}")

    def made(script: str = "", part: str | None = None, **more: str) -> SourceAddress:
        if script:
            postgresql_server.run(script, name)
        return source_address(postgresql_server.address(name, **more) + (f"#{part}" if part else ""))

    yield made
    postgresql_server.run(f"DROP DATABASE {name} WITH (FORCE)")
