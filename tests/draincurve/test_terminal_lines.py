"""Every line that a command prints goes through one function, which shows what hides in it."""

from __future__ import annotations

import ast
from pathlib import Path

import draincurve

ROOM = Path(draincurve.__file__).parent
THE_WAY = ROOM / "commands" / "command_line.py"


def printing_calls(path: Path) -> list[int]:
    """Lines of calls that print past `say`."""
    calls = (
        node.func for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if isinstance(node, ast.Call)
    )
    return [
        call.lineno
        for call in calls
        if (isinstance(call, ast.Name) and call.id in ("print", "echo", "secho"))
        or (isinstance(call, ast.Attribute) and call.attr in ("echo", "secho"))
        or (isinstance(call, ast.Attribute) and ast.unparse(call) in ("sys.stdout.write", "sys.stderr.write"))
    ]


def test_nothing_is_printed_past_say() -> None:
    files = [*ROOM.glob("*.py"), *(ROOM / "commands").glob("*.py"), *(ROOM / "nightly").rglob("*.py")]
    files += (ROOM / "log_entry").glob("*.py")
    assert len(files) > 40
    assert {path.name: printing_calls(path) for path in files if path != THE_WAY and printing_calls(path)} == {}
    assert len(printing_calls(THE_WAY)) == 1
