"""The modules and tests of `make mutants` are there: one that was renamed would be left out without a word."""

import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]


def test_every_path_is_a_file() -> None:
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["mutmut"]
    paths = [*settings["only_mutate"], *settings["pytest_add_cli_args_test_selection"]]
    assert len(paths) > 20
    assert [path for path in paths if not (ROOT / path).is_file()] == []
