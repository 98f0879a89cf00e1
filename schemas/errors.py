"""Errors that a person can act on. The command line prints them as one line."""

from __future__ import annotations

import re


class DraincurveError(Exception):
    """Anything that stops a run. Its message names the offender, the expected value and what to do."""


class SourceError(DraincurveError):
    """A file that cannot be read, or a table that lacks what it needs as a whole."""


class TransientSourceError(SourceError):
    """A source that cannot be used just now, but perhaps later: out of reach, locked, or too slow."""


class HeaderError(SourceError):
    """Headers that cannot be matched to the columns of a table.

    summary : what is wrong, in few words. setting : lines for the settings that may answer it, or None
    """

    def __init__(self, where: str, summary: str, *, at_length: str | None = None, setting: str | None = None) -> None:
        super().__init__(f"{where}: {at_length or summary}")
        self.summary = summary
        self.setting = setting

    def within(self, table: str) -> tuple[str, str]:
        """The message and the setting's lines for a settings file that has these settings in a table of its own."""
        nested = re.compile(r"\[(?=headers\b)")
        return nested.sub(f"[{table}.", str(self)), nested.sub(f"[{table}.", self.setting or "")


class SettingsError(DraincurveError):
    """An unknown or impossible setting."""


class FitError(DraincurveError):
    """A model that has no answer on these data, with the reason and what to try next."""


class EngineError(DraincurveError):
    """An engine that is not there or cannot be used, or a worker that failed."""


class ContractError(DraincurveError):
    """A result that breaks its own schema or the row accounting: a fault of the program, not of the log."""


def file_fault_line(fault: OSError, *, place: object = "file") -> str:
    """One line on a fault of the file system; place : what was written to, where the fault does not name it."""
    return f"{fault.filename or place}: {fault.strerror or fault}; check the folder, its space and its rights"
