"""Passwords and keys from the environment or a file, and their removal from messages."""

from __future__ import annotations

from collections.abc import Iterable

from draincurve.nightly.delivery.night_report import DeliveryContext
from draincurve.nightly.delivery.retrying import PermanentError

HIDDEN = "[hidden]"
SHORTEST_HIDDEN = 4
"""Shorter secrets are not replaced: they occur inside ordinary words."""


def read_secret(what: str, context: DeliveryContext, *, variable: str | None, file: str | None) -> str | None:
    """A secret of one line, or None where the settings name none.

    what : the secret in words; variable, file : as the settings name them. Raises PermanentError, which names the
    variable or file but never its content.
    """
    if variable is not None:
        text, source = context.environment.get(variable), f"environment variable {variable}"
        if not text:
            raise PermanentError(f"the {what} is missing: set {source}")
    elif file is not None:
        text, source = _file_text(what, context, file=file), f"file {file}"
    else:
        return None
    line = text.strip("\r\n")
    if not line or not line.isprintable():
        raise PermanentError(f"the {what} in {source} is not one line of text")
    return line


def without_secrets(text: str, secrets: Iterable[str | None]) -> str:
    """Text on one line with every secret replaced."""
    for secret in sorted({item for item in secrets if item and len(item) >= SHORTEST_HIDDEN}, key=len, reverse=True):
        text = text.replace(secret, HIDDEN)
    return " ".join("".join(mark if mark.isprintable() else " " for mark in text).split())


def _file_text(what: str, context: DeliveryContext, *, file: str) -> str:
    path = context.within(file)
    try:
        return path.read_text(encoding="utf-8-sig")
    except OSError as fault:
        raise PermanentError(f"the {what} is missing: {path} cannot be read ({fault.strerror})") from fault
    except UnicodeDecodeError as fault:
        raise PermanentError(f"the {what} is missing: {path} is not UTF-8 text") from fault
