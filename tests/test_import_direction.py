"""Imports run one way: schemas < pipeline < reports, and inside the pipeline from stage to stage, without cycles."""

import ast
from functools import cache
from importlib import import_module
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
ROOMS = ("schemas", "sample_data", "pipeline", "reports", "draincurve")
"""From left to right: a room imports from itself and from rooms before it. All are imported as `draincurve`."""
STAGES = (
    "processing",
    "memory_release",
    "stopwatch",
    "random_streams",
    "holm",
    "atomic_file",
    "reading",
    "describing",
    "fitting",
    "judging",
    "deciding",
    "plan_result",
    "run",
)
"""In the order in which data goes through them; a stage is a folder or a module of that name."""

LAYOUTS = (
    "figures",
    "content",
    "tables",
    "workbooks",
    "page",
    "print_edition",
    "mail_and_calendar",
    "output",
)
"""Inside reports/: pictures, what a report says, its layouts, and last the files that hold them."""


def modules():
    """Every module by the name it is imported by, links not followed."""
    named = {}
    for room in ROOMS:
        above = ROOT if room == "draincurve" else ROOT / room
        for path in sorted((ROOT / room).rglob("*.py")):
            if path.relative_to(ROOT).parts[:2] in {("draincurve", other) for other in ROOMS}:
                continue
            name = ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
            named[name if above == ROOT else f"draincurve.{name}"] = path
    return named


MODULES = modules()


def offered(name, path):
    """What a room's stub offers: each name to the module that has it; nothing for a package without a stub."""
    stub = path.with_suffix(".pyi")
    if not stub.exists():
        return {}
    nodes = ast.parse(stub.read_text(encoding="utf-8")).body
    found = [node for node in nodes if isinstance(node, ast.ImportFrom)]
    return {item.name: f"{name}.{node.module}" for node in found for item in node.names}


DOORS = {name: offered(name, path) for name, path in MODULES.items() if path.name == "__init__.py"}
"""Packages with what they offer to other rooms."""

BESIDE = {"simulation"}
"""Not part of the line: imports only schemas; only draincurve/ imports it."""


def room(name):
    """Number of the room that a module stands in."""
    second = name.split(".")[1] if "." in name else "draincurve"
    return ROOMS.index(second) if second in ROOMS else ROOMS.index("draincurve")


def imports_of(name, path):
    """Modules of this project that a module imports, anywhere in it; names after `from` are resolved to modules.

    A name that comes through a door is resolved to the module that has it.
    """
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {item.name for item in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{name} imports by a relative path"
            for item in node.names:
                deeper = f"{node.module}.{item.name}"
                behind = DOORS.get(node.module, {}).get(item.name, str(node.module))
                found.add(deeper if deeper in MODULES else behind)
    outside = {item for item in found if item.split(".")[0] in ROOMS and not item.startswith("draincurve")}
    assert outside == set(), f"{name} imports {outside} by a name that a user's own folder may have"
    return {item for item in found if item.split(".")[0] == "draincurve"}


@cache
def imports():
    """The imports of every module: read by the tests and not at collection, which each process of a run repeats."""
    return {name: imports_of(name, path) for name, path in MODULES.items()}


def part(name):
    """Stage of a module of the pipeline, by name, or nothing outside the pipeline."""
    parts = name.split(".")
    return parts[2] if len(parts) > 2 and parts[1] == "pipeline" else ""


def test_the_whole_house_is_read():
    assert len(MODULES) > 60
    assert {room(name) for name in MODULES} == set(range(len(ROOMS)))
    assert sum(len(found) for found in imports().values()) > 100
    known = set(STAGES) | BESIDE
    strangers = [name for name in MODULES if part(name) and part(name) not in known]
    assert strangers == [], "give it a place in the order of the stages"


@pytest.mark.parametrize("name", MODULES)
def test_rooms_import_from_their_left(name):
    assert all(item in MODULES for item in imports()[name]), "imports a module that is not there"
    assert all(room(item) <= room(name) for item in imports()[name])


@pytest.mark.parametrize("name", [name for name in MODULES if part(name) in STAGES])
def test_stages_import_from_earlier_stages(name):
    for item in imports()[name]:
        if part(item):
            assert part(item) not in BESIDE, f"{name} imports the simulation"
            assert STAGES.index(part(item)) <= STAGES.index(part(name)), f"{name} imports from a later stage: {item}"


def layout(name):
    """Folder of a module inside reports/, or nothing outside it."""
    parts = name.split(".")
    return parts[2] if len(parts) > 2 and parts[1] == "reports" else ""


@pytest.mark.parametrize("name", [name for name in MODULES if layout(name)])
def test_layouts_import_from_earlier_layouts(name):
    assert layout(name) in LAYOUTS, "give it a folder inside reports/"
    later = {
        item for item in imports()[name] if layout(item) and LAYOUTS.index(layout(item)) > LAYOUTS.index(layout(name))
    }
    assert later == set(), f"{name} imports from a later layout"


def test_the_simulation_stands_alone():
    for name, found in imports().items():
        if part(name) in BESIDE:
            assert {part(item) for item in found} <= {"", part(name)}, name


@cache
def through_doors():
    """Every import out of another room of the pipeline: the module that imports, where it imports from, the name."""
    found = []
    for name, path in MODULES.items():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            other = part(str(node.module)) if isinstance(node, ast.ImportFrom) else ""
            if other != part(name) and f"draincurve.pipeline.{other}" in DOORS:
                found += [(name, node.module, item.name) for item in node.names]
    return tuple(found)


def test_other_rooms_import_through_the_door():
    past = [item for item in through_doors() if item[2] not in DOORS.get(item[1], {})]
    assert past == [], "import it from the room, or list it in the room's __init__.pyi"


def test_no_room_is_imported_as_a_module():
    for name, found in imports().items():
        past = {item for item in found if item in DOORS and part(item) and part(item) != part(name)}
        assert past == set(), f"{name} imports a room whole"


@pytest.mark.parametrize("door", [door for door, names in DOORS.items() if names and part(door)])
def test_doors_offer_what_others_use_and_nothing_else(door):
    names, room = DOORS[door], import_module(door)
    assert set(names) == {name for _, where, name in through_doors() if where == door}
    for name, module in names.items():
        assert getattr(room, name) is getattr(import_module(module), name)
        assert f"{door}.{name}" not in MODULES, "a module of the same name would be found in its place"


def test_there_are_no_cycles():
    done, on_the_way = set(), []

    def walk(name):
        assert name not in on_the_way, " > ".join([*on_the_way[on_the_way.index(name) :], name])
        if name in done:
            return
        on_the_way.append(name)
        for item in sorted(imports()[name]):
            walk(item)
        on_the_way.pop()
        done.add(name)

    for name in MODULES:
        walk(name)
    assert done == set(MODULES)
