"""Where a table comes from: a file, a pattern of files, or a table or query of a database."""

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
_WORDS_OF_SECRETS = re.compile(r"[?&][^=&]*(pass|secret|token)[^=&]*=", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class SourceAddress:
    """An address as the command line and the nightly settings know it; it never holds a password.

    place : path or pattern of files, path of an SQLite file, or URL of a PostgreSQL server and database
    part : table or query in the database; None for every table with a name of the contract
    """

    kind: AddressKind
    place: str
    part: str | None = None

    @property
    def path(self) -> Path:
        """The file, or the pattern, of an address that is no server's."""
        return Path(self.place)

    @property
    def is_query(self) -> bool:
        """Whether `part` is a query and not the name of a table."""
        return self.part is not None and _QUERY.match(self.part) is not None

    @property
    def part_name(self) -> str:
        """The part in one word: the table, or `query`."""
        return "query" if self.is_query else self.part or ""

    @property
    def words(self) -> str:
        """The address as an error names it."""
        return f"{self.place}[{self.part_name}]" if self.part else self.place

    @property
    def label(self) -> str:
        """The address in short, as a report names it: folder and file, or database, and the table."""
        if self.kind == "postgresql":
            place = self.place.partition("?")[0].rsplit("/", 1)[-1] or "postgresql"
        else:
            place = str(Path(self.path.absolute().parent.name) / self.path.name)
        return f"{place}[{self.part_name}]" if self.part else place


def source_address(text: str, base: Path = Path()) -> SourceAddress:
    """The address that a text means; relative paths start from `base`.

    `drains.csv`, `logs/2026-*.csv`, `shop.db`: files, and a `~` is the home folder.
    `sqlite:shop.db#drains`, `sqlite:///srv/shop.db#drains`: a table of an SQLite file.
    `postgresql://user@host:5432/database#drains` (also `#schema.drains`): a table of a PostgreSQL database.
    Behind # may stand a query that begins with SELECT, WITH, VALUES or TABLE; without # all tables with names of the
    contract are meant. Raises SourceError for an empty text, an unknown scheme, a query that would change something
    and an address that holds a password, which is then not repeated.
    """
    scheme = _SCHEME.fullmatch(text)
    if not text.strip() or "\0" in text:
        raise SourceError("an address of a table is empty or holds a NUL; name a file or a database")
    if scheme is None or (scheme["scheme"].lower() not in _SCHEMES and not scheme["rest"].startswith("//")):
        return SourceAddress("files", str(base / Path(text).expanduser()))
    kind = _SCHEMES.get(scheme["scheme"].lower())
    place, _, part = scheme["rest"].partition("#")
    _refuse_password(place)
    if kind is None:
        raise SourceError(
            f"{scheme['scheme']}://: no kind of address that is known; expected a file, sqlite: or postgresql://"
        )
    wanted = part.strip() or None
    if wanted is not None:
        _refuse_changes(wanted)
    if kind == "sqlite":
        return SourceAddress("sqlite", str(_database_file(place, base)), wanted)
    if not place.startswith("//"):
        raise SourceError("postgresql: expected an address such as postgresql://user@host:5432/database#drains")
    return SourceAddress("postgresql", f"postgresql:{place}", wanted)


def address_of(place: SourceAddress | Path) -> SourceAddress:
    """The address itself, or that of a path."""
    return place if isinstance(place, SourceAddress) else SourceAddress("files", str(place))


def _database_file(place: str, base: Path) -> Path:
    named = unquote(place.removeprefix("//"))
    if not named:
        raise SourceError("sqlite: names no file; expected an address such as sqlite:///srv/shop.db#drains")
    return base / Path(named).expanduser()


def _refuse_password(place: str) -> None:
    """SourceError, without a word of the address, where a password may stand in it."""
    server = place.removeprefix("//").partition("?")[0]
    user = server.rpartition("@")[0]
    if ":" in user or _WORDS_OF_SECRETS.search(place):
        raise SourceError(
            "the address of the database holds a password, which others could read there; take it out and put it in "
            "the environment variable PGPASSWORD or in a password file (~/.pgpass, or the one PGPASSFILE names)"
        )


def _refuse_changes(part: str) -> None:
    found = _CHANGES.match(part)
    if found is not None:
        raise SourceError(
            f"a query that begins with {found[1].upper()} would change the database; name a table, or a query that "
            "begins with SELECT"
        )
