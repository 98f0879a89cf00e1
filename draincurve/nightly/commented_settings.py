"""A commented settings file for the nightly run, generated from the definitions of the settings."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import is_dataclass
from pathlib import Path
from typing import Any

from draincurve.schemas.checked_settings import Key, keys_of, toml_text
from draincurve.schemas.errors import SettingsError
from draincurve.schemas.nightly_settings import NightlySettings

HEAD = """\
# Settings of `draincurve nightly`.
#
# Relative paths start from the folder of this file. A line that begins with # and a word is a setting with
# its default, or with an example where there is no default: take the # away to set it.
#
# Most shops set the tables in [sources], accepted_risk, [policy.limits], the maker's limits in [policy.caps], and one
# way to be told in [delivery]. [policy.priors] and numbers of the calculation, such as nodes, are best left alone.
"""

SET = ("sources.log", "output.folder")
"""Settings without a # before them."""

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
    "policy.standing.probability": 0.9,
}
"""Values shown for settings that have neither a default nor an example of their own."""

ALTERNATIVES = ("_env", "_file")
"""Endings of settings that are alternatives of the setting before them; only one of them may be set."""


def write_commented_settings(path: Path) -> None:
    """Write the file. Raises SettingsError where it exists already, OSError where it cannot be written."""
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(commented_settings())
    except FileExistsError as fault:
        raise SettingsError(f"{path}: is there already and is left as it is; name another file") from fault


def commented_settings() -> str:
    """The file as text."""
    return HEAD + "\n".join(_tables(NightlySettings(), "")) + "\n"


def _tables(settings: Any, table: str) -> Iterator[str]:
    """Lines of a table and of the tables in it; plain settings come first, as TOML requires."""
    keys = keys_of(settings)
    parts = [key for key in keys if is_dataclass(key.value)]
    plain = [key for key in keys if not is_dataclass(key.value)]
    if plain:
        yield ""
        yield from _wrapped(_first_sentence(settings))
        yield f"[{table}]"
    seen: set[str] = set()
    for key in plain:
        yield from _setting(key, f"{table}.{key.name}", seen=seen)
    for key in parts:
        yield from _tables(key.value, f"{table}.{key.name}".lstrip("."))


def _setting(key: Key, path: str, *, seen: set[str]) -> Iterator[str]:
    """A comment on the purpose of a setting, and the setting.

    seen : settings so far, without their endings
    """
    known = key.rules
    value = EXAMPLES.get(path) or (key.value if key.value not in (None, (), {}) else _example(known))
    yield from _wrapped(f"{known['why']}{_possible(known)}")
    line = f"{key.name} = {toml_text(value)}"
    stem = key.name
    for ending in ALTERNATIVES:
        stem = stem.removesuffix(ending)
    if path in SET:
        yield line
    elif stem in seen and key.name != stem:
        yield f"# or: {line}"
    else:
        yield f"#{line}"
    seen.add(stem)


def _example(known: Any) -> Any:
    return [known["example"]] if "several" in known else known["example"]


def _possible(known: Any) -> str:
    """The possible values, in brackets."""
    if "among" in known:
        return f" ({', '.join(known['among'])})"
    return f" ({known['low']:g} to {known['high']:g})" if "low" in known else ""


def _first_sentence(settings: Any) -> str:
    return str(type(settings).__doc__).splitlines()[0]


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, 115, initial_indent="# ", subsequent_indent="# ")
