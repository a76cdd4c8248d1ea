# SPDX-License-Identifier: GPL-3.0-or-later
"""Set up everything the tests need, and run them: ``python3 tests/run.py``.

Makes (or uses again) an environment in tests/.envs for each Blender asked for, checks style and types once, then runs
pytest in each. Standard library only, Python 3.11 or later. ``python3 tests/run.py --help`` lists the options.
"""

import argparse
import fcntl
import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import time
from dataclasses import dataclass, field
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).resolve().parent.parent
ENVS = ROOT / "tests" / ".envs"
MANIFEST = ROOT / "blender_addon" / "underglass" / "blender_manifest.toml"

# Blender's series, oldest first, and the one Python that its module is made for.
PYTHON_OF_BLENDER = {"4.5": "3.11", "5.0": "3.11", "5.2": "3.13"}

# Beyond so many processes side by side the longest module of tests decides how long all take.
MOST_SIDE_BY_SIDE = 8
CORES = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1

# What pytest is told for each suite; "default" leaves the choice to pyproject.toml, and is spread over the cores, each
# module of tests to one of them. What the other suites run takes the cores itself, or a screen.
SUITES = {
    "default": ["-n", str(min(CORES, MOST_SIDE_BY_SIDE)), "--dist", "loadfile"],
    "altered": ["-m", "altered", "-s"],
    "edits": ["-m", "edits", "-s"],
    "bench": ["-m", "bench", "-s"],
    "engines": ["-m", "engines"],
    "faults": ["-m", "faults", "-s"],
    "soak": ["-m", "soak", "-s", "--hypothesis-profile=soak"],
    "window": ["-m", "window", "-rs"],
    "all": ["-m", ""],
}
# Makes Blenders with a window; those that are there already are kept.
WINDOWS = [sys.executable, str(ROOT / "tests" / "window" / "roots.py"), str(ENVS / "window")]
LINTED_SUITES = ("default", "all")


class SetupError(Exception):
    """The tests cannot start, for a reason that fits on one line."""


@dataclass
class Log:
    """Runs the steps one after the other and remembers which of them failed."""

    started: float = field(default_factory=time.monotonic)
    passed: int = 0
    failed: dict[str, int] = field(default_factory=dict)

    def run(self, title: str, command: list[str]) -> bool:
        """Run ``command`` at the top of the project; tell how it ended and how long it took."""
        print(f"\n== {title}", flush=True)
        start = time.monotonic()
        status = subprocess.run(command, cwd=ROOT, stdin=subprocess.DEVNULL, check=False).returncode
        outcome = "ok" if status == 0 else f"FAILED (status {status})"
        print(f"-- {title}: {outcome}, {time.monotonic() - start:.1f} s", flush=True)
        if status == 0:
            self.passed += 1
        else:
            self.failed[title] = status
        return status == 0

    def finish(self) -> int:
        """Print the summary and return the status of the first failure, 0 when there was none."""
        took = time.monotonic() - self.started
        verdict = f"FAILED: {', '.join(self.failed)}" if self.failed else "all passed"
        print(f"\n{self.passed + len(self.failed)} steps in {took:.0f} s, {verdict}", flush=True)
        return next(iter(self.failed.values()), 0)


def main() -> int:
    """Run what the command line asks for and return the exit status."""
    options = parse()
    try:
        blenders = wanted_blenders(options)
        pythons = {blender: find_python(PYTHON_OF_BLENDER[blender], system=options.system) for blender in blenders}
        return run_all(pythons, options)
    except SetupError as error:
        print(error, file=sys.stderr)
        return 2


def parse() -> argparse.Namespace:
    """Return the options; what comes after ``--`` goes to pytest."""
    parser = argparse.ArgumentParser(description="Set up and run the tests of Underglass.")
    parser.add_argument("--bpy", action="append", choices=PYTHON_OF_BLENDER, help="Blender to test with; repeatable")
    parser.add_argument("--all", action="store_true", help="test with every Blender that is supported")
    parser.add_argument("--suite", choices=SUITES, default="default", help="which tests (default: %(default)s)")
    parser.add_argument("--system", action="store_true", help="as root, install missing Debian packages with apt-get")
    parser.add_argument(
        "--windows-too", action="store_true", help="with --system, meanwhile make the Blenders of the window suite"
    )
    parser.add_argument("pytest", nargs="*", metavar="-- ARG", help="arguments for pytest")
    return parser.parse_args()


def wanted_blenders(options: argparse.Namespace) -> list[str]:
    """Return the Blenders to test with, oldest first: those asked for, or the newest that fits this Python."""
    if options.all:
        return list(PYTHON_OF_BLENDER)
    if options.bpy:
        return [blender for blender in PYTHON_OF_BLENDER if blender in options.bpy]
    running = f"{sys.version_info.major}.{sys.version_info.minor}"
    fitting = [blender for blender, python in PYTHON_OF_BLENDER.items() if python == running]
    if not fitting:
        usable = " or ".join(f"python{version}" for version in sorted(set(PYTHON_OF_BLENDER.values())))
        raise SetupError(f"There is no Blender module for Python {running}: use {usable}, or choose one with --bpy.")
    return fitting[-1:]


def run_all(pythons: dict[str, Path], options: argparse.Namespace) -> int:
    """Check the style and types once, and test with every Blender; return the exit status."""
    log = Log()
    # Everything is installed here, so that no test may be skipped for want of it.
    os.environ["UNDERGLASS_ORACLES_REQUIRED"] = "1"
    if options.suite == "window":
        find_windows(system=options.system)
    windows = None
    for blender, python in pythons.items():
        env = ready_env(log, blender, python=python)
        if env is None:
            continue
        check_libraries(env, system=options.system)
        if options.windows_too and options.system and windows is None:
            # Not before the libraries are there: apt-get lets no other in. What goes wrong is said when they are used.
            windows = subprocess.Popen(WINDOWS, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL)
        if options.suite in LINTED_SUITES and blender == next(iter(pythons)):
            lint(log, env)
        chosen = SUITES[options.suite]
        if options.suite == "default":
            chosen = [*chosen, *share_of(blender, pythons)]
        log.run(f"pytest with Blender {blender}", [*in_env(env, "pytest"), *chosen, *options.pytest])
    if windows is not None:
        windows.wait()
    return log.finish()


def share_of(blender: str, pythons: dict[str, Path]) -> list[str]:
    """Return what pytest is told so that no test is run twice where once is enough."""
    place = list(pythons).index(blender)
    before, after = (list(pythons.values())[part] for part in (slice(place), slice(place + 1, None)))
    if pythons[blender] in after:
        # What starts no Blender is tested by the later one, with the same Python and the same libraries.
        return ["-m", f"bpy and not once and {default_marks()}"]
    if any(python != pythons[blender] for python in before):
        # Random cases were drawn in full with the Python before: a few of them show that this one agrees.
        return ["--hypothesis-profile=few", "-m", f"not once and {default_marks()}"]
    return []


def default_marks() -> str:
    """Return the expression of marks that the default run goes by."""
    found = re.search(
        r'^addopts = .*"-m", "([^"]+)"\]', (ROOT / "pyproject.toml").read_text(encoding="utf-8"), re.MULTILINE
    )
    if found is None:
        raise SetupError("pyproject.toml: addopts ends with no marks; put them back as -m and an expression")
    return found[1]


def find_windows(*, system: bool) -> None:
    """Name Blenders with a window for the tests: those of UNDERGLASS_BLENDER, or on ``system`` some of Debian's own."""
    if os.environ.get("UNDERGLASS_BLENDER") or not system:
        return
    made = subprocess.run(WINDOWS, capture_output=True, text=True, stdin=subprocess.DEVNULL, check=False)
    if made.returncode:
        raise SetupError(made.stderr.strip())
    os.environ["UNDERGLASS_BLENDER"] = os.pathsep.join(made.stdout.splitlines())
    # the tests with one that could not be had are skipped, with its line as the reason
    os.environ["UNDERGLASS_NO_BLENDER"] = made.stderr.strip()


def lint(log: Log, env: Path) -> None:
    """Check style, layout and types; the oldest Python is asked, since what it takes the others take too."""
    log.run("ruff check", [*in_env(env, "ruff"), "check"])
    log.run("ruff format", [*in_env(env, "ruff"), "format", "--check"])
    log.run("mypy", in_env(env, "mypy"))


def in_env(env: Path, module: str) -> list[str]:
    """Return the start of a command that runs ``module`` in ``env``."""
    return [str(env / "bin" / "python"), "-m", module]


# -- the environment ---------------------------------------------------------------------------------------------------


def ready_env(log: Log, blender: str, *, python: Path) -> Path | None:
    """Return the environment for ``blender``, made anew if what it is made from has changed; None if that fails."""
    env = ENVS / f"py{PYTHON_OF_BLENDER[blender]}-bpy{blender}"
    stamp = env / "made-from"
    digest = ingredients(python)
    ENVS.mkdir(exist_ok=True)
    with (ENVS / f"{env.name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if stamp.exists() and stamp.read_text() == digest:
            print(f"== environment {env.name}: ready", flush=True)
            return env
        made = log.run(f"environment {env.name}", [str(python), "-m", "venv", "--clear", str(env)])
        if not made or not log.run(f"packages for Blender {blender}", install_command(env, blender)):
            return None
        stamp.write_text(digest)
    return env


def install_command(env: Path, blender: str) -> list[str]:
    """Return the one pip command that brings everything, so that pip sees every constraint at once."""
    return [*in_env(env, "pip"), "install", "-qq", "--editable", ".[test]", f"bpy=={blender}.*"]


def ingredients(python: Path) -> str:
    """Return a digest of all that an environment depends on: what pip reads of the project, and the Python."""
    import tomllib  # here, so that a Python too old to have it is told so by wanted_blenders

    pyproject = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    read_by_pip = {key: value for key, value in pyproject.items() if key != "tool"} | {
        "hatch": pyproject["tool"]["hatch"],
        "version": tomllib.loads(MANIFEST.read_text(encoding="utf-8"))["version"],
        "python": str(python),
    }
    return hashlib.sha256(json.dumps(read_by_pip, sort_keys=True).encode()).hexdigest()


# -- the machine -------------------------------------------------------------------------------------------------------


def find_python(version: str, *, system: bool) -> Path:
    """Return a Python of ``version``, such as "3.11", that can make environments; on ``system``, install one."""
    python = installed_python(version)
    if python is None and system:
        apt_install((f"python{version}", f"python{version}-venv"))
        python = installed_python(version)
    if python is None:
        blenders = ", ".join(blender for blender, fit in PYTHON_OF_BLENDER.items() if fit == version)
        raise SetupError(f"Blender {blenders} needs python{version} with its venv module: this machine has none.")
    return python


def installed_python(version: str) -> Path | None:
    """Look for a Python of ``version``: the running one, on PATH, among pyenv's."""
    pyenv = Path(os.environ.get("PYENV_ROOT", Path.home() / ".pyenv"))
    candidates = [
        sys.executable,
        shutil.which(f"python{version}"),
        *sorted((pyenv / "versions").glob(f"{version}.*/bin/python")),
    ]
    return next((Path(python) for python in candidates if python and fits(python, version)), None)


def fits(python: str | Path, version: str) -> bool:
    """Tell whether ``python`` runs, is of ``version`` and can make environments."""
    question = "import sys, venv, ensurepip; print('%d.%d' % sys.version_info[:2])"
    asked = subprocess.run([python, "-c", question], capture_output=True, text=True, check=False)
    return asked.returncode == 0 and asked.stdout.strip() == version


def check_libraries(env: Path, *, system: bool) -> None:
    """Make sure that Blender's module finds its shared libraries; on ``system``, install what is missing."""
    machine = load_system_module()
    module = next(env.glob("lib/python*/site-packages/bpy/__init__.so"))
    missing = machine.missing_libraries(module)
    if missing and system:
        apt_install(machine.debian_packages(missing))
        missing = machine.missing_libraries(module)
    if missing:
        raise SetupError(machine.explain_missing(missing))


def load_system_module() -> ModuleType:
    """Return the project's own account of the machine, loaded by its path: it is not installed here."""
    path = ROOT / "headless" / "underglass_headless" / "machine" / "shared_libraries.py"
    spec = spec_from_file_location("underglass_system", path)
    module = module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def apt_install(packages: tuple[str, ...]) -> None:
    """Try to install Debian ``packages``; the caller looks whether it helped."""
    if os.geteuid() != 0 or shutil.which("apt-get") is None:
        print(f"Not root on a Debian machine, so not installed: {' '.join(packages)}", flush=True)
        return
    quiet = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
    print(f"== apt-get install {' '.join(packages)}", flush=True)
    for command in (["update"], ["install", "--yes", "--no-install-recommends", *packages]):
        subprocess.run(["apt-get", "--quiet", "--quiet", *command], env=quiet, stdin=subprocess.DEVNULL, check=False)


if __name__ == "__main__":
    sys.exit(main())
