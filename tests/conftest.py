# SPDX-License-Identifier: GPL-3.0-or-later
"""What every test may use: Blender in a process of its own, one seed, and how hard to look for odd cases."""

import importlib
import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import hypothesis
import pytest

TESTS = Path(__file__).parent
ROOT = TESTS.parent
SEED = int(os.environ.get("UNDERGLASS_SEED", "1977"))

# Set by run.py, which installs every oracle: one that is not there is then a failure, and no reason to skip a test.
ORACLES_REQUIRED = "UNDERGLASS_ORACLES_REQUIRED"
# Oracles that cannot be installed for a Python, such as {"pxr": {(3, 13)}}. At present all have wheels for all.
NO_WHEEL: dict[str, set[tuple[int, int]]] = {}

# A line of a script's output that starts with this holds its answer as JSON.
ANSWER = "ANSWER "

# Runs a script as Python would, lends it answer(), and leaves without the interpreter's clean-up: with bpy loaded that
# can crash or never end, whatever the script did.
LAUNCHER = f"""
import json, os, runpy, sys, traceback
sys.argv = sys.argv[1:]
def answer(value):
    print({ANSWER!r} + json.dumps(value), flush=True)
status = 0
try:
    runpy.run_path(sys.argv[0], init_globals={{"answer": answer}}, run_name="__main__")
except BaseException:
    traceback.print_exc()
    status = 1
sys.stdout.flush()
sys.stderr.flush()
os._exit(status)
"""

hypothesis.configuration.set_hypothesis_home_dir(TESTS / ".cache" / "hypothesis")
hypothesis.settings.register_profile("default", deadline=None, max_examples=60)
# CI judges a change, so it must not find something else each time.
hypothesis.settings.register_profile("ci", deadline=None, max_examples=60, derandomize=True)
hypothesis.settings.register_profile("few", deadline=None, max_examples=12, derandomize="CI" in os.environ)
hypothesis.settings.register_profile("soak", deadline=None, max_examples=5000)
hypothesis.settings.load_profile("ci" if os.environ.get("CI") else "default")


def pytest_report_header() -> str:
    """Name the seed, so that a failure can be had again."""
    return f"seed: {SEED} (UNDERGLASS_SEED)"


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark whatever runs Blender, before -m picks among the marks."""
    for item in items:
        if "run_in_blender" in getattr(item, "fixturenames", ()):
            item.add_marker("bpy")


@pytest.fixture(scope="session")
def seed() -> int:
    """Return the number that every random generator of a test starts from."""
    return SEED


@pytest.fixture(scope="session")
def oracle() -> Callable[[str], ModuleType]:
    """Return a function that imports a program of other people's, ``oracle("cv2")``, to compare with.

    Without it the test is skipped, or fails where run.py says that it has to be there.
    """

    def get(name: str) -> ModuleType:
        try:
            return importlib.import_module(name)
        except ImportError as error:
            excused = sys.version_info[:2] in NO_WHEEL.get(name.partition(".")[0], ())
            end = pytest.fail if os.environ.get(ORACLES_REQUIRED) and not excused else pytest.skip
            end(f"an oracle is missing: {error}")

    return get


@pytest.fixture(scope="session")
def run_in_blender(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Any]:
    """Return a function that runs a script with ``bpy`` in a fresh process and returns what it answers.

    ``run_in_blender(script, *args, timeout=120)``: ``script`` is a path or the text of a script, which says
    ``answer({...})`` once, or prints a line of JSON after ``ANSWER``; ``args`` become its ``sys.argv[1:]``.
    The process knows nothing of the user's own Blender settings.
    """

    def run(script: Path | str, *args: object, timeout: float = 120) -> Any:
        place = tmp_path_factory.mktemp("blender")
        command = [sys.executable, "-c", LAUNCHER, str(script_file(script, place)), *map(str, args)]
        world = {"cwd": place, "env": child_environment(place)}
        try:
            done = subprocess.run(command, **world, capture_output=True, text=True, timeout=timeout, check=False)
        except subprocess.TimeoutExpired as late:
            said = b"".join(part for part in (late.stdout, late.stderr) if part).decode()
            raise pytest.fail.Exception(f"Blender took more than {timeout} s\n{said}", pytrace=False) from None
        return the_answer(done)

    return run


def script_file(script: Path | str, place: Path) -> Path:
    """Return the file to run: ``script`` itself, or its text put into ``place``."""
    if isinstance(script, Path):
        return script.resolve()
    file = place / "snippet.py"
    file.write_text(script, encoding="utf-8")
    return file


def child_environment(place: Path) -> dict[str, str]:
    """Return the environment of a Blender process: our packages in reach, its user's folder empty and in ``place``."""
    user = place / "user"
    user.mkdir()
    packages = os.pathsep.join(str(ROOT / folder) for folder in ("blender_addon", "headless", "tests"))
    return os.environ | {"BLENDER_USER_RESOURCES": str(user), "PYTHONPATH": packages}


def the_answer(done: "subprocess.CompletedProcess[str]") -> Any:
    """Return the answer of a process that is ``done``; fail with all it said when it has none or ended badly."""
    answers = [line.removeprefix(ANSWER) for line in done.stdout.splitlines() if line.startswith(ANSWER)]
    if done.returncode != 0 or len(answers) != 1:
        pytest.fail(
            f"Blender ended with status {done.returncode} and {len(answers)} answers\n"
            f"--- what it said\n{done.stdout}\n--- its errors\n{done.stderr}",
            pytrace=False,
        )
    return json.loads(answers[0])
