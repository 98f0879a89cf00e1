"""Settings out of a file: every kind of value, each refused with its name, its range and what to do."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import pytest

from draincurve.schemas.checked_settings import (
    choice,
    choices,
    complete_mappings,
    filled,
    keys_of,
    one_each,
    setting,
    switch,
    text,
    texts,
    toml_table,
    words,
)
from draincurve.schemas.delivery_settings import (
    DAYS,
    DeliverySettings,
    MailSettings,
    ScheduleSettings,
    checked_delivery,
    is_this_machine,
)
from draincurve.schemas.errors import SettingsError


@dataclass(frozen=True, slots=True)
class Inner:
    hours: float | None = setting(None, 1, 10, "some hours [h]")


@dataclass(frozen=True, slots=True)
class Outer:
    number: int = setting(3, 1, 5, "how many")
    word: str = choice("a", ("a", "b"), "one of two")
    several: tuple[str, ...] = choices(("a",), ("a", "b"), "some of two")
    line: str | None = text(None, "a line", r"[a-z]+", "abc")
    hidden: str | None = text(None, "a secret line", r"[a-z]+", "abc", shown=False)
    lines: tuple[str, ...] = texts("lines")
    on: bool = switch(False, "whether")
    inner: Inner = field(default_factory=Inner)
    names: Mapping[str, str] = words("names", {"grey": "3"})
    counts: Mapping[str, int] = one_each({name: (f"{name}_count", setting(2, 1, 5, "how many")) for name in "ab"})

    def __post_init__(self) -> None:
        complete_mappings(self)


def test_every_kind_is_filled():
    given = {
        "number": 5,
        "word": "b",
        "several": ["b", "a", "b"],
        "line": " abc ",
        "hidden": "xyz",
        "lines": ["one", "two"],
        "on": True,
        "inner": {"hours": 2},
        "names": {"Grey": "3-4"},
        "b_count": 4,
    }
    found = filled(Outer(), given, "file.toml")
    assert found == Outer(
        5, "b", ("b", "a"), "abc", "xyz", ("one", "two"), True, Inner(2.0), {"grey": "3-4"}, {"a": 2, "b": 4}
    )
    assert filled(Outer(), {}, "file.toml") == Outer()


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"numbr": 3}, "[x] numbr: unknown setting; did you mean number?"),
        ({"number": 6}, "[x] number = 6: expected a whole number from 1 to 5 (how many)"),
        ({"number": True}, "[x] number = True: expected a whole number"),
        ({"word": "c"}, "[x] word = 'c': expected one of a, b"),
        ({"several": "a"}, "[x] several = 'a': expected a list in square brackets (some of two)"),
        ({"several": ["c"]}, "[x] several = 'c': expected one of a, b"),
        ({"line": "ABC"}, "[x] line = 'ABC': expected one line of text, such as 'abc' (a line)"),
        ({"line": "abc\nabc"}, "expected one line of text"),
        ({"line": 3}, "[x] line = '3': expected one line of text"),
        ({"line": ""}, "expected one line of text"),
        ({"hidden": "TOP SECRET"}, "[x] hidden: expected one line of text"),
        ({"lines": ["a", "b\x00"]}, "expected one line of text"),
        ({"on": 1}, "[x] on = 1: expected true or false (whether)"),
        ({"inner": 3}, "inner is a table; write it as [x.inner] with its keys below"),
        ({"inner": {"hours": float("nan")}}, "[x.inner] hours = nan: expected a number from 1 to 10"),
        ({"names": 3}, "expected a table of words"),
        ({"a_count": 6}, "[x] a_count = 6: expected a whole number from 1 to 5 (how many)"),
        ({"counts": {"a": 1}}, "[x] counts: unknown setting; did you mean "),
    ],
)
def test_what_cannot_be_is_refused(given, said):
    with pytest.raises(SettingsError) as refused:
        filled(Outer(), given, "file.toml", "x")
    assert str(refused.value).startswith("file.toml: ")
    assert said in str(refused.value)
    assert "SECRET" not in str(refused.value)


def test_a_mapping_has_a_key_for_each_item_and_takes_no_other():
    outer = Outer(counts={"b": 5})
    assert outer.counts == {"a": 2, "b": 5}
    assert [(key.name, key.value) for key in keys_of(outer) if key.field == "counts"] == [
        ("a_count", 2),
        ("b_count", 5),
    ]
    both = filled(outer, {"a_count": 3, "b_count": 4}, "file.toml")
    assert (both.counts, outer.counts) == ({"a": 3, "b": 4}, {"a": 2, "b": 5})
    with pytest.raises(SettingsError, match="counts: c: unknown; possible are a, b"):
        Outer(counts={"c": 1})


def test_a_file_that_cannot_be_read(tmp_path):
    with pytest.raises(SettingsError, match="name an existing settings file"):
        toml_table(tmp_path / "gone.toml")
    (tmp_path / "odd.toml").write_bytes(b"a = \xff")
    with pytest.raises(SettingsError, match="not a TOML file"):
        toml_table(tmp_path / "odd.toml")


MAIL = MailSettings(host="mail.team.example", sender="a@team.example", recipients=("b@team.example",))


@pytest.mark.parametrize(
    ("mail", "said"),
    [
        (replace(MAIL, sender=None), "needs sender and recipients"),
        (replace(MAIL, recipients=()), "needs sender and recipients"),
        (replace(MAIL, user_env="U"), "a user but no password"),
        (replace(MAIL, password_file="p"), "a password but no user"),
        (replace(MAIL, user_env="U", user_file="u", password_env="P"), "names user in two places"),
        (replace(MAIL, security="none"), "in the clear"),
    ],
)
def test_mail_that_does_not_fit_together(mail, said):
    with pytest.raises(SettingsError, match=said):
        checked_delivery(DeliverySettings(mail), "n.toml")


@pytest.mark.parametrize("address", ["a@b\r\nBcc: c@d", "a@b, c@d", "<a@b>", "a", "a@", "a b@c"])
def test_an_address_holds_nothing_but_an_address(address):
    with pytest.raises(SettingsError, match="expected one line of text"):
        filled(MailSettings(), {"sender": address}, "n.toml")


@pytest.mark.parametrize("at", ["24:00", "3:30", "03:60", "03:30:00", "noon"])
def test_a_time_that_no_clock_shows(at):
    with pytest.raises(SettingsError):
        filled(ScheduleSettings(), {"at": at}, "n.toml")


def test_days_and_hosts():
    assert filled(ScheduleSettings(), {"days": ["Mon", "Fri"]}, "n.toml").days == ("Mon", "Fri")
    assert ScheduleSettings().days == DAYS
    assert [is_this_machine(host) for host in ("localhost", "127.9.9.9", "::1", "[::1]", "LOCALHOST.")] == [True] * 5
    assert [is_this_machine(host) for host in ("10.0.0.1", "localhost.team.example", "127.0.0.1.team.example")] == [
        False
    ] * 3
