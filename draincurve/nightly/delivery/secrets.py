"""Passwords and keys from the environment or a file, and keeping them out of everything that is said."""

from __future__ import annotations

from collections.abc import Iterable

from draincurve.nightly.delivery.night_report import Surroundings
from draincurve.nightly.delivery.retrying import LastingError

HIDDEN = "[hidden]"
SHORTEST_HIDDEN = 4
"""A shorter text stands in ordinary words too, and hiding it would garble them."""


def read_secret(surroundings: Surroundings, variable: str | None, file: str | None, what: str) -> str | None:
    """A secret in one line, or None where the settings name none.

    variable, file : as the settings name them. Raises LastingError, which names the place but never the content.
    """
    if variable is not None:
        found, place = surroundings.environment.get(variable), f"environment variable {variable}"
        if not found:
            raise LastingError(f"the {what} is missing: set {place}")
    elif file is not None:
        found, place = _file_text(surroundings, file, what), f"file {file}"
    else:
        return None
    line = found.strip("\r\n")
    if not line or not line.isprintable():
        raise LastingError(f"the {what} in {place} is not one line of text")
    return line


def without_secrets(text: str, secrets: Iterable[str | None]) -> str:
    """Text on one line in which no secret stands, whoever wrote it there."""
    for secret in sorted({item for item in secrets if item and len(item) >= SHORTEST_HIDDEN}, key=len, reverse=True):
        text = text.replace(secret, HIDDEN)
    return " ".join("".join(mark if mark.isprintable() else " " for mark in text).split())


def _file_text(surroundings: Surroundings, file: str, what: str) -> str:
    path = surroundings.within(file)
    try:
        return path.read_text(encoding="utf-8-sig")
    except OSError as fault:
        raise LastingError(f"the {what} is missing: {path} cannot be read ({fault.strerror})") from fault
    except UnicodeDecodeError as fault:
        raise LastingError(f"the {what} is missing: {path} is not UTF-8 text") from fault
