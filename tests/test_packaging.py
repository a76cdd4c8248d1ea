# SPDX-License-Identifier: GPL-3.0-or-later
"""What leaves the house: the wheel, the source archive and Blender's extension hold what they should, and work."""

import os
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from pathlib import Path

import pytest

from underglass_headless.machine.shared_libraries import blender_module

ROOT = Path(__file__).resolve().parent.parent
EXTENSION = ROOT / "blender_addon" / "underglass"
MANIFEST = tomllib.loads((EXTENSION / "blender_manifest.toml").read_text(encoding="utf-8"))
VERSION = MANIFEST["version"]
PACKAGES = {"underglass": EXTENSION, "underglass_headless": ROOT / "headless" / "underglass_headless"}

# What Blender's rules say of the texts in a manifest.
LONGEST_TEXT = 64

# Enables the extension twice over, as a user would who installs the zip of argv[1], and tells what it left behind.
ENABLE = """
import os, sys, zipfile
from pathlib import Path
import bpy, addon_utils

NAME = "bl_ext.user_default.underglass"
ADDED_TO = ("Scene", "Object", "Camera", "Collection", "Material", "Image", "WindowManager")

def state():
    here = {f"type {name}" for name in dir(bpy.types)}
    here |= {f"{owner}.{name}" for owner in ADDED_TO for name in dir(getattr(bpy.types, owner))}
    for name in dir(bpy.app.handlers):
        handlers = getattr(bpy.app.handlers, name)
        if isinstance(handlers, list):
            here |= {f"{name} {handler.__module__}" for handler in handlers}
    return here

repository = next(repo for repo in bpy.context.preferences.extensions.repos if repo.module == "user_default")
with zipfile.ZipFile(sys.argv[1]) as archive:
    archive.extractall(Path(repository.directory) / "underglass")
addon_utils.extensions_refresh()
before = state()
enabled, left = [], []
for _ in range(2):
    enabled.append(addon_utils.enable(NAME) is not None)
    addon_utils.disable(NAME)
    left.append(sorted(state() - before))
private = Path(repository.directory).is_relative_to(os.environ["BLENDER_USER_RESOURCES"])
answer({"private": private, "enabled": enabled, "left": left})
"""

# Registers a class that Blender takes and one that it refuses.
HALF_REGISTERED = """
import bpy
from underglass import registration

class GoodSettings(bpy.types.PropertyGroup):
    pass

class NoBlenderClass:
    pass

undone = []
registration.ATTACHMENTS = ()
registration.CLASSES = (GoodSettings, NoBlenderClass)
try:
    registration.register()
    refused = False
except Exception:
    refused = True
left = GoodSettings.is_registered
registration.CLASSES = (GoodSettings,)
registration.ATTACHMENTS = ((lambda: None, lambda: undone.append("first")), (lambda: 1 / 0, lambda: None))
try:
    registration.register()
except ZeroDivisionError:
    taken_back = undone == ["first"] and not GoodSettings.is_registered
registration.ATTACHMENTS = ()
registration.register()
there = GoodSettings.is_registered
registration.unregister()
gone = not GoodSettings.is_registered
answer({"refused": refused, "taken_back": taken_back, "left": left, "there": there, "gone": gone})
"""


def run(*command: object, cwd: Path = ROOT, **environment: str) -> str:
    """Run ``command`` and return what it printed; fail with that if it fails."""
    words = [str(word) for word in command]
    env = os.environ | environment
    done = subprocess.run(words, cwd=cwd, env=env, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, f"{' '.join(words)}\n{done.stdout}{done.stderr}"
    return done.stdout


def source_files(package: Path) -> set[str]:
    """Return the files of ``package`` as its archives should hold them."""
    kept = (file for file in package.rglob("*") if file.is_file() and "__pycache__" not in file.parts)
    return {str(file.relative_to(package)) for file in kept}


@pytest.fixture(scope="module")
def source_archive(tmp_path_factory) -> Path:
    place = tmp_path_factory.mktemp("sdist")
    run(sys.executable, "-m", "hatchling", "build", "-t", "sdist", "-d", place)
    return place / f"underglass-{VERSION}.tar.gz"


@pytest.fixture(scope="module")
def wheel(source_archive, tmp_path_factory) -> Path:
    """Build from the unpacked source archive, which shows that it holds all that is needed."""
    place = tmp_path_factory.mktemp("wheel")
    run("tar", "-xzf", source_archive, "-C", place)
    run(sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", place, cwd=place / f"underglass-{VERSION}")
    return place / f"underglass-{VERSION}-py3-none-any.whl"


@pytest.fixture(scope="module")
def installed(wheel, tmp_path_factory) -> Path:
    target = tmp_path_factory.mktemp("installed")
    run(sys.executable, "-m", "pip", "install", "-qq", "--no-deps", "--no-index", "--target", target, wheel)
    return target


@pytest.fixture(scope="module")
def extension_zip(tmp_path_factory) -> Path:
    place = tmp_path_factory.mktemp("extension")
    run(sys.executable, extension_tool(), "build", "--source-dir", EXTENSION, "--output-dir", place)
    return place / f"underglass-{VERSION}.zip"


def extension_tool() -> Path:
    """Return Blender's own program for extensions, which comes with its module."""
    blender = blender_module()
    assert blender is not None, "Blender's module is not installed"
    return next(blender.parent.glob("*/scripts/addons_core/bl_pkg/cli/blender_ext.py"))


def test_the_wheel_holds_both_packages_and_nothing_else(wheel):
    with zipfile.ZipFile(wheel) as archive:
        names = {name for name in archive.namelist() if ".dist-info/" not in name}
    assert names == {f"{name}/{file}" for name, folder in PACKAGES.items() for file in source_files(folder)}
    # both are typed for whoever imports them (PEP 561), and the pages for people stay outside
    assert {f"{name}/py.typed" for name in PACKAGES} <= names
    assert [name for name in names if name.endswith(".md")] == []


def test_the_wheel_says_what_it_is_and_under_which_licence(wheel):
    info = f"underglass-{VERSION}.dist-info"
    with zipfile.ZipFile(wheel) as archive:
        metadata = archive.read(f"{info}/METADATA").decode()
        commands = archive.read(f"{info}/entry_points.txt").decode()
        licence = archive.read(f"{info}/licenses/LICENSE")
    assert f"Version: {VERSION}" in metadata
    assert "License-Expression: GPL-3.0-or-later" in metadata
    assert "underglass = underglass_headless.__main__:main" in commands
    assert licence == (ROOT / "LICENSE").read_bytes()


def test_the_source_archive_holds_the_project_without_what_tests_left_behind(source_archive):
    with tarfile.open(source_archive) as archive:
        names = {Path(name).relative_to(f"underglass-{VERSION}") for name in archive.getnames()}
    assert {Path("LICENSE"), Path("pyproject.toml"), Path("tests/run.py"), Path(".ci/run")} <= names
    # every page that the first one leads to comes along
    assert {Path(folder) / "README.md" for folder in ("blender_addon", "headless", "scenes", "tests")} <= names
    assert not {".envs", ".cache", "__pycache__"} & {part for name in names for part in name.parts}


def test_the_installed_package_imports_without_blender(installed):
    where = "import sys, underglass, underglass_headless; assert 'bpy' not in sys.modules; print(underglass.__file__)"
    printed = run(sys.executable, "-c", where, cwd=installed, PYTHONPATH=str(installed))
    assert Path(printed.strip()).is_relative_to(installed)


def test_the_manifest_keeps_to_blenders_rules():
    for text in (MANIFEST["tagline"], *MANIFEST["permissions"].values()):
        assert len(text) <= LONGEST_TEXT
        assert text[-1].isalnum()


def test_the_extension_is_valid_and_holds_the_package(extension_zip):
    run(sys.executable, extension_tool(), "validate", extension_zip)
    with zipfile.ZipFile(extension_zip) as archive:
        names = {name for name in archive.namelist() if not name.endswith("/")}
    assert names == source_files(EXTENSION)
    assert [name for name in names if name.endswith(".md")] == []


def test_the_extension_comes_and_goes_and_leaves_nothing_behind(extension_zip, run_in_blender):
    told = run_in_blender(ENABLE, extension_zip)
    assert told == {"private": True, "enabled": [True, True], "left": [[], []]}


def test_a_class_that_blender_refuses_takes_those_before_it_along(run_in_blender):
    assert run_in_blender(HALF_REGISTERED) == {
        "refused": True,
        "taken_back": True,
        "left": False,
        "there": True,
        "gone": True,
    }
