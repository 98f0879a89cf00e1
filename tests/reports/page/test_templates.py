"""Compiled templates: kept beside the byte code of the module that sets how they are compiled."""

from __future__ import annotations

import sys
from pathlib import Path
from shutil import copy

import pytest
from jinja2 import Environment

from draincurve.reports.page import templates

TEMPLATE = "_contents.html"


@pytest.fixture
def compiled(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[str | None]:
    """Names of templates as they are compiled, by a module in a folder where byte code is kept."""
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    monkeypatch.setattr(templates, "__file__", copy(templates.__file__, tmp_path))
    (tmp_path / "__pycache__").mkdir()
    names: list[str | None] = []
    compiles = Environment.compile

    def noted(self: Environment, source: str, name: str | None = None, filename: str | None = None) -> object:
        names.append(name)
        return compiles(self, source, name, filename)

    monkeypatch.setattr(Environment, "compile", noted)
    return names


def load() -> None:
    """As a new run would."""
    templates.html_templates.__wrapped__().get_template(TEMPLATE)


def test_a_template_is_compiled_once_for_many_runs(compiled: list[str | None]) -> None:
    load()
    load()
    assert compiled == [TEMPLATE]


def test_other_settings_compile_it_again(compiled: list[str | None], tmp_path: Path) -> None:
    load()
    with (tmp_path / "templates.py").open("a", encoding="utf-8") as module:
        module.write("# with trim_blocks off\n")
    load()
    assert compiled == [TEMPLATE] * 2


def test_nothing_is_kept_where_python_keeps_nothing(
    compiled: list[str | None], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    load()
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    (tmp_path / "__pycache__").rmdir()
    load()
    assert compiled == [TEMPLATE] * 2
    assert [path.name for path in tmp_path.iterdir()] == ["templates.py"]
