"""Addresses of tables: a file, a pattern of files, or a table or query of a database."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Literal
from urllib.parse import unquote

from draincurve.schemas.errors import SourceError

AddressKind = Literal["files", "sqlite", "postgresql"]

_SCHEMES: dict[str, AddressKind] = {
    "sqlite": "sqlite",
    "postgresql": "postgresql",
    "postgres": "postgresql",
}
_SCHEME = re.compile(r"(?P<scheme>[A-Za-z][A-Za-z0-9+.\-]+):(?P<rest>.*)", re.DOTALL)
_QUERY = re.compile(r"\s*\(*\s*(select|with|values|table)\b(?=[\s(*'\"])", re.IGNORECASE)
_CHANGES = re.compile(
    r"\s*(insert|update|delete|merge|create|alter|drop|truncate|grant|revoke|copy|call|do|set|vacuum|attach|pragma)\s",
    re.IGNORECASE,
)
_SECRET_PARAMETER = re.compile(r"[?&][^=&]*(pass|secret|token)[^=&]*=", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class SourceAddress:
    """An address as given on the command line or in the nightly settings. It never holds a password.

    location : path or pattern of files, path of an SQLite file, or URL of a PostgreSQL server and database
    part : table or query in the database; None for every table named as in the contract
    """

    kind: AddressKind
    location: str
    part: str | None = None

    @property
    def path(self) -> Path:
        """The file or pattern; not for a PostgreSQL server."""
        return Path(self.location)

    @property
    def is_query(self) -> bool:
        """Whether `part` is a query rather than the name of a table."""
        return self.part is not None and _QUERY.match(self.part) is not None

    @property
    def part_name(self) -> str:
        """Name of the table, or the word `query`."""
        return "query" if self.is_query else self.part or ""

    @property
    def full_label(self) -> str:
        """The address as errors name it."""
        return f"{self.location}[{self.part_name}]" if self.part else self.location

    @property
    def label(self) -> str:
        """The address as reports name it: folder and file, or database, and the table."""
        if self.kind == "postgresql":
            name = self.location.partition("?")[0].rsplit("/", 1)[-1] or "postgresql"
        else:
            name = str(Path(self.path.absolute().parent.name) / self.path.name)
        return f"{name}[{self.part_name}]" if self.part else name


def source_address(text: str, base: Path = Path()) -> SourceAddress:
    """The address that a text means. Relative paths start at `base`.

    `drains.csv`, `logs/2026-*.csv`, `shop.db`: files; `~` is the home folder.
    `sqlite:shop.db#drains`, `sqlite:///srv/shop.db#drains`: a table of an SQLite file.
    `postgresql://user@host:5432/database#drains` (also `#schema.drains`): a table of a PostgreSQL database.
    A query that begins with SELECT, WITH, VALUES or TABLE may follow the # instead; without # all tables named as in
    the contract are read. Raises SourceError for an empty text, an unknown scheme, a query that would change
    something, and an address with a password, which is not repeated in the message.
    """
    scheme = _SCHEME.fullmatch(text)
    if not text.strip() or "\0" in text:
        raise SourceError("an address of a table is empty or holds a NUL; name a file or a database")
    if scheme is None or (scheme["scheme"].lower() not in _SCHEMES and not scheme["rest"].startswith("//")):
        return SourceAddress("files", str(base / Path(text).expanduser()))
    kind = _SCHEMES.get(scheme["scheme"].lower())
    location, _, part = scheme["rest"].partition("#")
    _refuse_password(location)
    if kind is None:
        raise SourceError(
            f"{scheme['scheme']}://: no kind of address that is known; expected a file, sqlite: or postgresql://"
        )
    wanted = part.strip() or None
    if wanted is not None:
        _refuse_changes(wanted)
    if kind == "sqlite":
        return SourceAddress("sqlite", str(_database_file(location, base)), wanted)
    if not location.startswith("//"):
        raise SourceError("postgresql: expected an address such as postgresql://user@host:5432/database#drains")
    return SourceAddress("postgresql", f"postgresql:{location}", wanted)


def address_of(location: SourceAddress | Path) -> SourceAddress:
    """The address itself, or the address of a path."""
    return location if isinstance(location, SourceAddress) else SourceAddress("files", str(location))


def _database_file(location: str, base: Path) -> Path:
    named = unquote(location.removeprefix("//"))
    if not named:
        raise SourceError("sqlite: names no file; expected an address such as sqlite:///srv/shop.db#drains")
    return base / Path(named).expanduser()


def _refuse_password(location: str) -> None:
    """Raises SourceError, without any of the address, where it may hold a password."""
    server = location.removeprefix("//").partition("?")[0]
    user = server.rpartition("@")[0]
    if ":" in user or _SECRET_PARAMETER.search(location):
        raise SourceError(
            "the address of the database holds a password, which others could read; put it in the environment "
            "variable PGPASSWORD, or in the password file ~/.pgpass"
        )


def _refuse_changes(part: str) -> None:
    match = _CHANGES.match(part)
    if match is not None:
        raise SourceError(
            f"a query that begins with {match[1].upper()} would change the database; name a table, or a query that "
            "begins with SELECT"
        )
