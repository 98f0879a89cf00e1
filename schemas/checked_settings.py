"""Settings with their possible values beside them, filled from a TOML file and checked one by one."""

from __future__ import annotations

import difflib
import json
import math
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import MISSING, dataclass, field, fields, is_dataclass, replace
from pathlib import Path
from typing import Any

from draincurve.schemas.errors import SettingsError

LONGEST_TEXT = 4096


def setting(default: Any, low: float, high: float, why: str) -> Any:
    """A number with its possible range, inclusive, and its purpose, which names its unit."""
    return field(default=default, metadata={"low": low, "high": high, "why": why})


def choice(default: Any, among: tuple[Any, ...], why: str) -> Any:
    """One word or number of a short list."""
    return field(default=default, metadata={"among": among, "why": why})


def choices(default: tuple[str, ...], among: tuple[str, ...], why: str) -> Any:
    """Several words of a short list, or none."""
    return field(default=default, metadata={"several": True, "among": among, "why": why})


def text(default: str | None, why: str, form: str = "", example: str = "", shown: bool = True) -> Any:
    """One line of text; `form` is the regular expression it must match as a whole, `example` a text that does.

    shown : whether an error may repeat the value; not where it may hold a secret
    """
    return field(default=default, metadata=_text_rules(form, example, why, shown))


def texts(why: str, form: str = "", example: str = "") -> Any:
    """Several lines of text, none by default."""
    return field(default=(), metadata={"several": True, **_text_rules(form, example, why, True)})


def switch(default: bool, why: str) -> Any:
    """True or false."""
    return field(default=default, metadata={"switch": True, "why": why})


def words(why: str, example: Mapping[str, str]) -> Any:
    """A table of the shop's own words and their meanings, empty by default."""
    return field(default_factory=dict, metadata={"words": True, "example": dict(example), "why": why})


def by_column(item: Any, columns: tuple[str, ...], why: str, example: Mapping[str, Any]) -> Any:
    """A table with an entry for each column that is named, empty by default; `item` says what an entry is."""
    rules = {"columns": columns, "item": item.metadata, "example": dict(example), "why": why}
    return field(default_factory=dict, metadata=rules)


def one_each(settings: Mapping[str, tuple[str, Any]]) -> Any:
    """A mapping in which every item has a key of its own in the file.

    settings : name of the item -> its key, and the setting as one of the functions above defines it
    """

    def defaults() -> dict[str, Any]:
        return {
            name: item.default if item.default_factory is MISSING else item.default_factory()
            for name, (_, item) in settings.items()
        }

    return field(default_factory=defaults, metadata={"keys": settings, "defaults": defaults})


def complete_mappings(settings: Any) -> None:
    """Adds the defaults of items that the caller left out of a mapping made by `one_each`; for `__post_init__`.

    Raises SettingsError for an item that does not exist.
    """
    for item in fields(settings):
        if "keys" in item.metadata:
            defaults, values = item.metadata["defaults"](), getattr(settings, item.name)
            unknown = ", ".join(sorted(values.keys() - defaults))
            if unknown:
                raise SettingsError(f"{item.name}: {unknown}: unknown; possible are {', '.join(defaults)}")
            object.__setattr__(settings, item.name, defaults | values)


@dataclass(frozen=True, slots=True)
class Key:
    """One key of a table of settings.

    name : in the file;  value : what is set;  rules : what it may be, and why
    field : of the dataclass that holds it;  item : of that field's mapping, None where the field is the value itself
    """

    name: str
    value: Any
    rules: Mapping[str, Any]
    field: str
    item: str | None = None


def keys_of(settings: Any) -> tuple[Key, ...]:
    """The keys of a dataclass of settings, in the order of a file."""
    keys: list[Key] = []
    for setting in fields(settings):
        value = getattr(settings, setting.name)
        if "keys" in setting.metadata:
            keys += [
                Key(key, value[item], rules.metadata, setting.name, item)
                for item, (key, rules) in setting.metadata["keys"].items()
            ]
        else:
            keys.append(Key(setting.name, value, setting.metadata, setting.name))
    return tuple(keys)


def toml_table(path: Path) -> dict[str, Any]:
    """A TOML file as nested values; raises SettingsError for a file that cannot be read."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as fault:
        raise SettingsError(f"{path}: cannot be read ({fault.strerror}); name an existing settings file") from fault
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as fault:
        raise SettingsError(f"{path}: not a TOML file ({fault}); mend that line") from fault


def filled(base: Any, values: dict[str, Any], source: str, table: str = "") -> Any:
    """`base`, a dataclass of settings, with the given values put in, each checked.

    source : how an error names the file; table : how it names the table inside it. Raises SettingsError for an
    unknown key (with the nearest known one) and for a value of the wrong kind or outside its possible range.
    """
    known = {key.name: key for key in keys_of(base)}
    changes: dict[str, Any] = {}
    for name, value in values.items():
        where = f"[{table}] {name}" if table else name
        if name not in known:
            raise SettingsError(f"{source}: {where}: unknown setting; {_home(name, known) or _nearest(name, known)}")
        key = known[name]
        if is_dataclass(key.value):
            inner = f"{table}.{name}" if table else name
            if not isinstance(value, dict):
                raise SettingsError(f"{source}: {name} is a table; write it as [{inner}] with its keys below")
            checked = filled(key.value, value, source, inner)
        else:
            checked = _checked(key, value, f"{source}: {where}")
        if key.item is not None:
            checked = {**changes.get(key.field, getattr(base, key.field)), key.item: checked}
        changes[key.field] = checked
    return replace(base, **changes)


def toml_text(value: Any) -> str:
    """A value in TOML. Its strings and numbers are those of JSON, but for the delete character."""
    if isinstance(value, Mapping):
        inner = ", ".join(f"{toml_key(str(word))} = {toml_text(meaning)}" for word, meaning in value.items())
        return f"{{ {inner} }}"
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def toml_key(name: str) -> str:
    """A key in TOML, in quotation marks where it needs them."""
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else toml_text(name)


def _home(name: str, known: Mapping[str, Key]) -> str:
    """The only table inside this one that has such a key, in words; empty where there is none."""
    tables = [key.name for key in known.values() if is_dataclass(key.value) and name in _names(key.value)]
    return f"it belongs under [{tables[0]}]" if len(tables) == 1 else ""


def _names(settings: Any) -> set[str]:
    return {key.name for key in keys_of(settings)}


def _nearest(name: str, known: Iterable[str]) -> str:
    near = difflib.get_close_matches(name, known, n=1)
    return f"did you mean {near[0]}?" if near else f"possible are {', '.join(known)}"


def _checked(key: Key, value: Any, where: str) -> Any:
    """One value, of the kind of its default and inside its range."""
    known = key.rules
    if "columns" in known:
        return _checked_by_column(key, value, where)
    if "words" in known:
        return _checked_words(value, where)
    if "several" in known:
        return _checked_several(known, value, where)
    if "among" in known:
        return _checked_choice(known, value, where)
    if "text" in known:
        return _checked_text(known, value, where)
    if "switch" in known:
        if not isinstance(value, bool):
            raise SettingsError(f"{where} = {value!r}: expected true or false ({known['why']})")
        return value
    return _checked_number(known, isinstance(key.value, int), value, where)


def _checked_number(known: Any, whole: bool, value: Any, where: str) -> int | float:
    low, high = known["low"], known["high"]
    kind = "whole number" if whole else "number"
    expected = f"expected a {kind} from {low:g} to {high:g} ({known['why']})"
    if isinstance(value, bool) or not isinstance(value, int if whole else (int, float)):
        raise SettingsError(f"{where} = {value!r}: {expected}")
    if not math.isfinite(value) or not low <= value <= high:
        raise SettingsError(f"{where} = {value!r}: {expected}")
    return value if whole else float(value)


def _checked_choice(known: Any, value: Any, where: str) -> Any:
    if value not in known["among"] or isinstance(value, bool):
        raise SettingsError(f"{where} = {value!r}: expected one of {', '.join(map(str, known['among']))}")
    return value


def _checked_several(known: Any, value: Any, where: str) -> tuple[str, ...]:
    """A list without repeated items, each item checked."""
    if not isinstance(value, list):
        raise SettingsError(f"{where} = {value!r}: expected a list in square brackets ({known['why']})")
    check = _checked_choice if "among" in known else _checked_text
    return tuple(dict.fromkeys(check(known, item, where) for item in value))


def _text_rules(form: str, example: str, why: str, shown: bool) -> dict[str, Any]:
    return {"text": True, "form": form, "example": example, "why": why, "shown": shown}


def _checked_text(known: Any, value: Any, where: str) -> str:
    """One line without control characters, of the required form."""
    trimmed = value.strip() if isinstance(value, str) else ""
    of_the_form = not known["form"] or re.fullmatch(known["form"], trimmed)
    if 1 <= len(trimmed) <= LONGEST_TEXT and trimmed.isprintable() and of_the_form:
        return trimmed
    such_as = f", such as {known['example']!r}" if known["example"] else ""
    value_shown = f" = {str(value)[:80]!r}" if known["shown"] else ""
    raise SettingsError(f"{where}{value_shown}: expected one line of text{such_as} ({known['why']})")


def _checked_words(value: Any, where: str) -> dict[str, str]:
    """A table of the shop's words, read without regard to case."""
    if not isinstance(value, dict):
        raise SettingsError(f"{where}: expected a table of words and ratings, such as grey = '3-4'")
    words: dict[str, str] = {}
    for word, meaning in value.items():
        key, text = " ".join(str(word).split()).casefold(), " ".join(str(meaning).split())
        if words.setdefault(key, text) != text:
            raise SettingsError(f"{where}: '{word}' is there twice, as '{words[key]}' and '{text}'; keep one")
    return words


def _checked_by_column(key: Key, value: Any, where: str) -> dict[str, Any]:
    """A table with an entry for each column, each entry checked."""
    if not isinstance(value, dict):
        raise SettingsError(f"{where}: expected a table with the names of columns, such as {_such_as(key.rules)}")
    for column in value:
        if column not in key.rules["columns"]:
            raise SettingsError(f"{where}: {column}: no such column; {_nearest(column, key.rules['columns'])}")
    item = key.rules["item"]
    return {
        column: _checked(Key(column, None, item, column), entry, f"{where}: {column}")
        for column, entry in value.items()
    }


def _such_as(known: Mapping[str, Any]) -> str:
    column, entry = next(iter(known["example"].items()))
    return f"{column} = {toml_text(entry)}"
