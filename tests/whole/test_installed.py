"""Installed as a wheel or editable, everything is found under `draincurve`, beside a user's own modules too."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import sysconfig
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
ROOMS = ("pipeline", "schemas", "reports", "sample_data")
OWN_MODULES = ("pipeline.py", "schemas/__init__.py", "reports/__init__.py", "sample_data/__init__.py")

SCRIPT = """
import json
import sys

for name in ("pyarrow", "statsmodels", "psycopg", "distributed"):
    sys.modules[name] = None  # an install without extras does not have them
import draincurve

fleet = draincurve.simulate(seed=1, units=4, drains=32)
result = draincurve.plan(fleet.drains, fleet.as_of, units=fleet.units)
if sys.argv[1:] == ["report"]:
    result.report("out")
print(json.dumps([draincurve.__file__, result.next_service["unit_id"].to_list()]))
"""


@pytest.fixture
def users_folder(tmp_path):
    """A folder with a script, and with modules of the user's own that are called as ours were called once."""
    folder = tmp_path / "of the user"
    for name in OWN_MODULES:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text("raise RuntimeError('the user has a module of this name')\n")
    (folder / "script.py").write_text(SCRIPT)
    return folder


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    folder = tmp_path_factory.mktemp("wheel")
    left_out = shutil.ignore_patterns(".*", "__pycache__", "tests", "docs", "out", "build", "*.egg-info")
    shutil.copytree(ROOT, folder / "source", symlinks=True, ignore=left_out)
    options = ["--no-deps", "--no-build-isolation", "--no-index", "--quiet", "--disable-pip-version-check"]
    command = [sys.executable, "-m", "pip", "wheel", *options, "--wheel-dir", folder / "dist", folder / "source"]
    subprocess.run(command, check=True, capture_output=True)
    return next((folder / "dist").glob("draincurve-*.whl"))


@pytest.fixture(scope="module")
def installed(wheel, tmp_path_factory):
    """Python of a fresh environment with the wheel; its libraries are those of the environment of the tests."""
    folder = tmp_path_factory.mktemp("environment")
    venv.create(folder, symlinks=True)
    python = folder / "bin" / "python"
    options = ["--no-deps", "--no-index", "--quiet", "--disable-pip-version-check"]
    subprocess.run([sys.executable, "-m", "pip", "--python", python, "install", *options, wheel], check=True)
    libraries = Path(sysconfig.get_path("purelib", vars={"base": str(folder)}))
    (libraries / "of_the_tests.pth").write_text(sysconfig.get_path("purelib"))
    _take_over_compiled_code(libraries / "draincurve")
    return python


def _take_over_compiled_code(package):
    """Code that is compiled already is taken over, since it depends on the source only: a minute saved."""
    for source in package.rglob("*.py"):
        ours = ROOT / "draincurve" / source.relative_to(package)
        for compiled in (ours.parent / "__pycache__").glob(f"{ours.stem}.*.nb[ic]"):
            cache = source.parent / "__pycache__"
            cache.mkdir(exist_ok=True)
            shutil.copy2(compiled, cache)
            os.utime(source, ns=(ours.stat().st_atime_ns, ours.stat().st_mtime_ns))


def run(python, *words, cwd, alone):
    """What Python prints in a folder; alone : without the paths that the tests were started with."""
    environment = {name: value for name, value in os.environ.items() if not (alone and name == "PYTHONPATH")}
    done = subprocess.run([python, *words], cwd=cwd, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


def planned_by(printed):
    """The file of the package that planned the four units."""
    file, units = json.loads(printed.splitlines()[-1])
    assert {"F01", "F02", "F03", "S01"} <= set(units)
    return Path(file)


def test_editable(users_folder):
    file = planned_by(run(sys.executable, "script.py", cwd=users_folder, alone=False))
    assert file.resolve() == (ROOT / "draincurve" / "__init__.py").resolve()


def test_wheel(users_folder, installed):
    file = planned_by(run(installed, "script.py", "report", cwd=users_folder, alone=True))
    assert file.is_relative_to(installed.parents[1])
    assert (users_folder / "out" / "report.html").stat().st_size > 100_000


def test_the_program_starts_by_its_module_and_by_its_name(users_folder, installed):
    by_module = run(installed, "-m", "draincurve", "--help", cwd=users_folder, alone=True)
    by_name = run(installed.with_name("draincurve"), "--help", cwd=users_folder, alone=True)
    assert "plan" in by_module
    assert by_name.splitlines()[2:] == by_module.splitlines()[2:]
    assert "draincurve" in run(sys.executable, "-m", "draincurve", "--help", cwd=users_folder, alone=False)


def test_the_wheel_holds_every_file_once(wheel):
    names = zipfile.ZipFile(wheel).namelist()
    assert len(names) == len(set(names))
    ours = [name for name in names if not name.split("/")[0].endswith(".dist-info")]
    files = [path for room in ROOMS for path in (ROOT / room).rglob("*")]
    files += [path for path in (ROOT / "draincurve").rglob("*") if path.relative_to(ROOT).parts[1] not in ROOMS]
    kept = {path for path in files if path.is_file() and "__pycache__" not in path.parts}
    assert set(ours) == {name_in_wheel(path) for path in kept}


def name_in_wheel(path):
    parts = path.relative_to(ROOT).parts
    return "/".join(parts if parts[0] == "draincurve" else ("draincurve", *parts))
