"""The HTML templates, and the style sheets and script that every page has inline."""

from __future__ import annotations

import base64
import hashlib
import os
import sys
from functools import cache
from importlib.resources import files
from pathlib import Path

from jinja2 import ChoiceLoader, Environment, FileSystemBytecodeCache, PackageLoader, StrictUndefined
from markupsafe import Markup

from draincurve.reports.content import wording
from draincurve.reports.content.trade_words import SHEDS_MORE
from draincurve.schemas.shown_text import shown

STYLE_SHEETS = ("style.css", "print.css")
SCRIPTS = ("table.js", "layers.js")


@cache
def html_templates() -> Environment:
    """Templates of the page and of the mail; in every text from the log, markup and hidden characters are escaped."""
    environment = Environment(
        loader=ChoiceLoader([PackageLoader("draincurve.reports", room) for room in ("page", "mail_and_calendar")]),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        finalize=_escaped,
        bytecode_cache=_compiled_templates(),
    )
    environment.globals |= {"wording": wording, "sheds_more": SHEDS_MORE}
    return environment


def _compiled_templates() -> FileSystemBytecodeCache | None:
    """Where compiled templates are kept: beside this module's own byte code, and only where Python keeps that.

    Compiling them takes as long as filling them ten times. Jinja2 compiles a template again that has changed; what is
    set in this module is in the names of the files.
    """
    module = Path(__file__)
    folder = module.parent / "__pycache__"
    if sys.dont_write_bytecode or not os.access(folder, os.W_OK):
        return None
    return FileSystemBytecodeCache(str(folder), f"{hashlib.sha256(module.read_bytes()).hexdigest()[:16]}-%s.template")


def _escaped(value: object) -> object:
    """Text with nothing hidden in it; markup of our own as it is."""
    return shown(value) if isinstance(value, str) and not isinstance(value, Markup) else value


@cache
def inlined_style() -> Markup:
    """Our own style sheets as text for the page."""
    folder = files("draincurve.reports.page")
    return Markup("\n".join(folder.joinpath(name).read_text(encoding="utf-8").strip() for name in STYLE_SHEETS))


@cache
def inlined_script() -> tuple[Markup, str]:
    """Our own script as text for the page, and the digest that allows only this script to run."""
    folder = files("draincurve.reports.page")
    script = "\n".join(folder.joinpath(name).read_text(encoding="utf-8").strip() for name in SCRIPTS)
    return Markup(script), base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
