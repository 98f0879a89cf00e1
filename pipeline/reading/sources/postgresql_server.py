"""A PostgreSQL server: its address, completed from the environment, and how a session with it begins.

What the address leaves out comes from the environment, as in PostgreSQL's own programs: PGHOST, PGPORT, PGDATABASE,
PGUSER, PGPASSWORD, PGPASSFILE, PGTZ. Source: PostgreSQL documentation, 34.15 Environment Variables and 34.16 The
Password File.
"""

from __future__ import annotations

import getpass
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import parse_qs, quote, unquote, urlsplit

from draincurve.schemas.errors import SourceError

CONNECT_SECONDS = 10
STATEMENT_SECONDS = 600
"""Longest time for the rows of one table or query [s]."""
LOCK_SECONDS = 30

HIDDEN = "[hidden]"

_SOCKET_FOLDER = "/var/run/postgresql"
_PARAMETERS = ("sslmode", "sslrootcert")
SESSION = {
    "default_transaction_read_only": "on",
    "statement_timeout": f"{STATEMENT_SECONDS}s",
    "lock_timeout": f"{LOCK_SECONDS}s",
    "DateStyle": "ISO",
    "IntervalStyle": "postgres",
    "extra_float_digits": "1",
}


@dataclass(frozen=True, slots=True)
class Server:
    """A database on a server and its user. host : name, or folder of the socket. parameters : of TLS."""

    host: str
    port: int
    database: str
    user: str
    password: str | None = field(repr=False)
    parameters: tuple[tuple[str, str], ...] = ()
    time_zone: str | None = None

    @property
    def label(self) -> str:
        """The server as errors name it, without the password."""
        return f"postgresql://{self.user}@{self.host}:{self.port}/{self.database}"


def server_of(location: str, environment: Mapping[str, str]) -> Server:
    """The server of an address, completed from the environment and the password file.

    Raises SourceError for an address or a password file that cannot be used. The message holds neither the password
    nor any line of its file.
    """
    try:
        parts = urlsplit(location)
        port = parts.port or int(environment.get("PGPORT", "5432"))
        given = parse_qs(parts.query, strict_parsing=bool(parts.query))
    except ValueError as fault:
        raise SourceError(
            f"{location}: not an address of PostgreSQL ({fault}); expected postgresql://user@host:5432/database#drains"
        ) from None
    unknown = [name for name in given if name not in _PARAMETERS]
    if unknown:
        raise SourceError(f"{location}: {unknown[0]} is not known here; possible are {', '.join(_PARAMETERS)}")
    host = unquote(parts.hostname or "") or environment.get("PGHOST") or _SOCKET_FOLDER
    user = unquote(parts.username or "") or environment.get("PGUSER") or getpass.getuser()
    database = unquote(parts.path.removeprefix("/")) or environment.get("PGDATABASE") or user
    password = environment.get("PGPASSWORD") or _from_password_file(
        environment, host, port=port, database=database, user=user
    )
    parameters = tuple((name, values[-1]) for name, values in given.items())
    return Server(host, port, database, user, password, parameters, environment.get("PGTZ"))


def without_secret(text: str, server: Server) -> str:
    """The text without the password, also where it stands as in an address."""
    if server.password is None:
        return text
    for secret in (quote(server.password, safe=""), server.password):
        text = text.replace(secret, HIDDEN)
    return text


def connection_keywords(server: Server) -> dict[str, str]:
    """What the driver is told. It holds the password and must never be printed.

    Source of the names: PostgreSQL documentation, 34.1.2 Parameter Key Words.
    """
    session = SESSION | ({"TimeZone": server.time_zone} if server.time_zone else {})
    secret = {} if server.password is None else {"password": server.password}
    return {
        "host": server.host,
        "port": str(server.port),
        "dbname": server.database,
        "user": server.user,
        **secret,
        **dict(server.parameters),
        "passfile": os.devnull,
        "connect_timeout": str(CONNECT_SECONDS),
        "keepalives_idle": "30",
        "application_name": "draincurve",
        "client_encoding": "UTF8",
        "options": " ".join(f"-c {name}={_escaped(value)}" for name, value in session.items()),
    }


def _escaped(value: str) -> str:
    """A value of the start-up options, with blanks and backslashes escaped."""
    return re.sub(r"([\\\s])", r"\\\1", value)


def _from_password_file(
    environment: Mapping[str, str], host: str, *, port: int, database: str, user: str
) -> str | None:
    """The password of the first matching line; None without a file or without such a line."""
    named = environment.get("PGPASSFILE")
    path = Path(named) if named else Path(environment.get("HOME", "/")) / ".pgpass"
    try:
        if not path.is_file():
            return None
        if path.stat().st_mode & 0o077:
            raise SourceError(f"{path}: others may read the passwords in it; set its rights to 0600")
        lines = path.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        raise SourceError(f"{path}: the password file cannot be read; check its rights and its encoding") from None
    local = "localhost" if host == _SOCKET_FOLDER else host
    wanted = (local, str(port), database, user)
    for line in lines:
        fields = [re.sub(r"\\(.)", r"\1", item) for item in re.findall(r"(?:^|:)((?:\\.|[^:\\])*)", line)]
        if line.startswith("#") or len(fields) < 5:
            continue
        if all(item in ("*", value) for item, value in zip(fields[:4], wanted, strict=True)):
            return fields[4]
    return None
