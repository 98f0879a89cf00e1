"""A settings file for the nightly run, written out of the settings' own definitions, so that none is missing."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator
from dataclasses import is_dataclass
from pathlib import Path
from typing import Any

from draincurve.schemas.checked_settings import Key, keys_of
from draincurve.schemas.errors import SettingsError
from draincurve.schemas.nightly_settings import NightlySettings

HEAD = """\
# Settings of `draincurve nightly`.
#
# Relative paths start from the folder that this file lies in. A line that begins with # and a word is a setting with
# its default, or with an example where there is no default: take the # away to set it.
"""

LIVE = ("sources.log", "output.folder")
"""Settings that stand in the file without a # before them."""

EXAMPLES: dict[str, Any] = {
    "policy.costs.change": 60,
    "policy.costs.late": 900,
    "policy.caps.max_interval_h": 40,
    "policy.caps.max_oil_days": 365,
    "delivery.mail.ca_file": "certificates.pem",
    "delivery.mail.user_file": "mail-user",
    "delivery.mail.password_file": "mail-password",
    "delivery.webhook.ca_file": "certificates.pem",
    "delivery.webhook.url_file": "hook-address",
    "delivery.webhook.token_file": "hook-token",
    "delivery.webhook.signing_key_file": "hook-key",
}
"""Values to show where a setting has neither default nor example of its own."""

SECOND_PLACE = ("_env", "_file")
"""Endings of settings that say the same as one before them, of which only one may be set."""


def write_commented_settings(path: Path) -> None:
    """Writes the file; raises SettingsError where one is there already, OSError where it cannot be written."""
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(commented_settings())
    except FileExistsError as fault:
        raise SettingsError(f"{path}: is there already and is left as it is; name another file") from fault


def commented_settings() -> str:
    """The file as text."""
    return HEAD + "\n".join(_tables(NightlySettings(), "")) + "\n"


def _tables(settings: Any, table: str) -> Iterator[str]:
    """Lines of a table and of the tables in it; plain settings come first, as TOML asks."""
    keys = keys_of(settings)
    parts = [key for key in keys if is_dataclass(key.value)]
    plain = [key for key in keys if not is_dataclass(key.value)]
    if plain:
        yield ""
        yield from _wrapped(_first_sentence(settings))
        yield f"[{table}]"
    said: set[str] = set()
    for key in plain:
        yield from _setting(key, f"{table}.{key.name}", said)
    for key in parts:
        yield from _tables(key.value, f"{table}.{key.name}".lstrip("."))


def _setting(key: Key, path: str, said: set[str]) -> Iterator[str]:
    """What a setting is for, and the setting."""
    known = key.rules
    value = EXAMPLES.get(path) or (key.value if key.value not in (None, (), {}) else _example(known))
    yield from _wrapped(f"{known['why']}{_possible(known)}")
    line = f"{key.name} = {_toml(value)}"
    stem = key.name
    for ending in SECOND_PLACE:
        stem = stem.removesuffix(ending)
    if path in LIVE:
        yield line
    elif stem in said and key.name != stem:
        yield f"# or: {line}"
    else:
        yield f"#{line}"
    said.add(stem)


def _example(known: Any) -> Any:
    return [known["example"]] if "several" in known else known["example"]


def _possible(known: Any) -> str:
    """Possible values in brackets."""
    if "among" in known:
        return f" ({', '.join(known['among'])})"
    return f" ({known['low']:g} to {known['high']:g})" if "low" in known else ""


def _toml(value: Any) -> str:
    """A value as TOML writes it; JSON strings, numbers and lists are TOML too."""
    if isinstance(value, dict):
        pairs = (f"{word} = {json.dumps(rating, ensure_ascii=False)}" for word, rating in value.items())
        return f"{{ {', '.join(pairs)} }}"
    return json.dumps(value, ensure_ascii=False)


def _first_sentence(settings: Any) -> str:
    return str(type(settings).__doc__).splitlines()[0]


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, 115, initial_indent="# ", subsequent_indent="# ")
