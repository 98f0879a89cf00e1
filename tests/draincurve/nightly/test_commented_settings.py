"""The settings file that --init writes: every setting in it, true as it stands and with every # taken away."""

from __future__ import annotations

import re
import tomllib
from dataclasses import is_dataclass
from pathlib import Path

import pytest

from draincurve.nightly.commented_settings import commented_settings, write_commented_settings
from draincurve.schemas.checked_settings import keys_of
from draincurve.schemas.errors import SettingsError
from draincurve.schemas.nightly_settings import NightlySettings, read_nightly
from draincurve.schemas.settings import read_settings


def uncommented(text: str) -> str:
    return re.sub(r"^#(?=\w+ = )", "", text, flags=re.MULTILINE)


def names_of(settings: object, table: str = "") -> set[str]:
    found = set()
    for key in keys_of(settings):
        name = f"{table}{key.name}"
        found |= names_of(key.value, f"{name}.") if is_dataclass(key.value) else {name}
    return found


def test_every_setting_is_in_it_under_its_table() -> None:
    said, table = set(), ""
    for line in commented_settings().splitlines():
        if line.startswith("["):
            table = f"{line.strip('[]')}."
        elif found := re.match(r"(?:#|# or: )?(\w+) = ", line):
            said.add(table + found[1])
    assert said == names_of(NightlySettings())
    assert said >= {"policy.limits.colour_rating", "policy.debris_words", "policy.wear_limits"}


def test_as_it_stands_it_sets_nothing_but_log_and_folder(tmp_path: Path) -> None:
    write_commented_settings(tmp_path / "night.toml")
    settings = read_nightly(tmp_path / "night.toml").settings
    assert settings.sources.log == "drains.csv"
    assert (settings.policy, settings.delivery, settings.schedule, settings.output) == (
        NightlySettings().policy,
        NightlySettings().delivery,
        NightlySettings().schedule,
        NightlySettings().output,
    )


def test_with_every_comment_taken_away_it_is_still_read(tmp_path: Path) -> None:
    (tmp_path / "night.toml").write_text(uncommented(commented_settings()))
    file = read_nightly(tmp_path / "night.toml")
    settings = file.settings
    assert settings.policy.costs.change == 60
    assert settings.delivery.mail.recipients == ("bench@workshop.example",)
    assert settings.sources.sides.keys() == {"units", "usage", "bookings", "oils", "measurements", "parts"}
    assert (file.output_folder, file.ledger) == (tmp_path / "reports", tmp_path / "reports" / "ledger.sqlite")


def test_defaults_are_written_as_they_are() -> None:
    given = tomllib.loads(uncommented(commented_settings()))
    assert given["policy"]["accepted_risk"] == NightlySettings().policy.accepted_risk
    assert given["schedule"]["at"] == NightlySettings().schedule.at
    assert given["policy"]["priors"]["hours_slope"] == NightlySettings().policy.priors.hours_slope


def test_a_file_that_is_there_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "night.toml").write_text("mine")
    with pytest.raises(SettingsError, match="is there already"):
        write_commented_settings(tmp_path / "night.toml")
    assert (tmp_path / "night.toml").read_text() == "mine"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[sources]\nlgo = 'a.csv'", r"\[sources\] lgo: unknown setting; did you mean log"),
        ("[soruces]\nlog = 'a.csv'", "soruces: unknown setting; did you mean sources"),
        ("[headers]\nrider = ['Ridden by']", r"headers: unknown setting; it belongs under \[policy\]"),
        ("[sources]\nunits = 'a.csv'", "names no log"),
        ("[sources]\nlog = 3", "expected one line of text"),
        ("[sources]\nlog = 'a.csv'\n[policy.limits]\ncolour_ratin = 3", r"\[policy.limits\] colour_ratin: unknown"),
        ("[sources]\nlog = 'a.csv'\n[policy.costs]\nlate = 3", "needs both change and late"),
        ("[sources]\nlog = 'a.csv'\n[schedule]\nkeep_reports = 0", "expected a whole number from 1"),
        ("[sources]\nlog = 'a.csv'\n[delivery.mail]\nhost = 'h'", "needs sender and recipients"),
        ("sources = 3", r"write it as \[sources\]"),
        ("[sources", "not a TOML file"),
    ],
)
def test_wrong_settings_are_one_line_that_names_the_nearest(tmp_path: Path, text: str, words: str) -> None:
    (tmp_path / "night.toml").write_text(text)
    with pytest.raises(SettingsError, match=words) as fault:
        read_nightly(tmp_path / "night.toml")
    assert "\n" not in str(fault.value).split("not a TOML", 1)[0]


def test_a_plan_takes_the_policy_of_a_nights_settings(tmp_path: Path) -> None:
    path = tmp_path / "night.toml"
    path.write_text('[sources]\nlog = "a.csv"\n[policy]\naccepted_risk = 0.05\n[policy.limits]\ndebris_rating = 3\n')
    assert read_settings(path) == read_nightly(path).settings.policy
    assert read_settings(path).accepted_risk == 0.05
    path.write_text("[policy]\naccepted_rsk = 0.05\n")
    with pytest.raises(SettingsError, match=r"\[policy\] accepted_rsk: unknown setting; did you mean accepted_risk"):
        read_settings(path)


def test_a_file_of_both_kinds_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "night.toml"
    path.write_text("accepted_risk = 0.2\n[policy]\naccepted_risk = 0.05\n")
    with pytest.raises(SettingsError, match="policy: unknown setting"):
        read_settings(path)
