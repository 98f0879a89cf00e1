"""Text as systemd's unit files want it: quoted, with backslashes, quotation marks and per cent signs escaped.

The rules are those of systemd.syntax(7), "Quoting", and systemd.unit(5), "Specifiers".
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence


def quoted(word: str) -> str:
    """One word of a list or a command line, whatever printable text it is."""
    escaped = word.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%")
    return f'"{escaped}"'


def quoted_list(words: Iterable[str]) -> str:
    """Words side by side."""
    return " ".join(quoted(word) for word in words)


def plain(text: str) -> str:
    """A value that systemd takes as a whole, where quotation marks would be part of it."""
    return text.replace("%", "%%")


def command_line(command: Sequence[str]) -> str:
    """A value of ExecStart=; the colon keeps a dollar sign from being taken for a variable.

    systemd starts no program with a quotation mark or a backslash in its name, so env(1) has to start that one.
    """
    refused = any(mark in command[0] for mark in "\"'\\")
    return f":{quoted_list(['/usr/bin/env', *command] if refused else command)}"
