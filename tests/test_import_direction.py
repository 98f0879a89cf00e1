"""Imports run one way: schemas < pipeline < reports, and inside the pipeline from stage to stage, without cycles."""

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
ROOMS = ("schemas", "pipeline", "reports", "sample_data")
MAY_IMPORT = {
    "schemas": {"schemas"},
    "pipeline": {"schemas", "pipeline"},
    "reports": {"schemas", "pipeline", "reports"},
    "sample_data": set(),
}
STAGES = (
    "freed_memory",
    "whole_file",
    "sources",
    "cleaning",
    "validating",
    "validation",
    "describing",
    "fitting",
    "judging",
    "deciding",
    "run_inputs",
    "run",
    "run_springs",
    "run_backtest",
    "log_entry",
    "run_oils",
    "nightly",
    "commands",
    "cli",
)
"""In the order in which data goes through them; a stage is a folder or a module of that name."""


def modules():
    files = [path for room in ROOMS for path in sorted((ROOT / room).rglob("*.py"))]
    return {".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): path for path in files}


MODULES = modules()

ANYWHERE = {item.split(".")[1] for item in MODULES if re.fullmatch(r"pipeline\.\w+_results?", item)}
"""Hand-overs from pipeline to reports: they import only schemas and each other; any stage may import them."""
BESIDE = {"simulation"}
"""Not part of the line: imports only schemas and plan_result."""
FRONT = {"nightly", "commands", "cli"}
"""The outer edge of the program, and the only parts of the pipeline that know reports, samples and simulation."""


def imports_of(name, path):
    """Modules of this project that a module imports, anywhere in it; names after `from` are resolved to modules."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {item.name for item in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{name} imports by a relative path"
            for item in node.names:
                deeper = f"{node.module}.{item.name}"
                found.add(deeper if deeper in MODULES else str(node.module))
    return {item for item in found if item.split(".")[0] in ROOMS}


IMPORTS = {name: imports_of(name, path) for name, path in MODULES.items()}


def stage(name):
    """Stage of a module of the pipeline: a number, or None outside the line."""
    parts = name.split(".")
    return STAGES.index(parts[1]) if len(parts) > 1 and parts[1] in STAGES else None


def test_the_whole_house_is_read():
    assert len(MODULES) > 60
    assert {name.split(".")[0] for name in MODULES} == set(ROOMS)
    assert sum(len(found) for found in IMPORTS.values()) > 100
    known = set(STAGES) | ANYWHERE | BESIDE
    strangers = [name for name in MODULES if name.startswith("pipeline.") and name.split(".")[1] not in known]
    assert strangers == [], "give it a place in the order of the stages"


@pytest.mark.parametrize("name", MODULES)
def test_rooms_import_from_their_left(name):
    room = name.split(".")[0]
    allowed = MAY_IMPORT[room]
    if name.startswith("pipeline.") and name.split(".")[1] in FRONT:
        allowed = allowed | {"reports", "sample_data"}
    assert {item.split(".")[0] for item in IMPORTS[name]} <= allowed
    assert all(item in MODULES for item in IMPORTS[name]), "imports a module that is not there"


@pytest.mark.parametrize("name", [name for name in MODULES if stage(name) is not None])
def test_stages_import_from_earlier_stages(name):
    for item in IMPORTS[name]:
        if item.startswith("pipeline.") and item.split(".")[1] not in ANYWHERE:
            if item.split(".")[1] in BESIDE:
                assert name.split(".")[1] in FRONT, f"{name} imports the simulation"
                continue
            assert stage(item) is not None
            assert stage(item) <= stage(name), f"{name} imports from a later stage: {item}"


def test_the_hand_over_and_the_simulation_stand_alone():
    for name, found in IMPORTS.items():
        part = name.split(".")[1] if name.startswith("pipeline.") else ""
        if part in ANYWHERE | BESIDE:
            own = {f"pipeline.{part}"} | {f"pipeline.{item}" for item in ANYWHERE}
            outside = {i for i in found if i.split(".")[0] != "schemas" and ".".join(i.split(".")[:2]) not in own}
            assert outside == set(), name


def test_there_are_no_cycles():
    done, on_the_way = set(), []

    def walk(name):
        assert name not in on_the_way, " > ".join([*on_the_way[on_the_way.index(name) :], name])
        if name in done:
            return
        on_the_way.append(name)
        for item in sorted(IMPORTS[name]):
            walk(item)
        on_the_way.pop()
        done.add(name)

    for name in MODULES:
        walk(name)
    assert done == set(MODULES)
