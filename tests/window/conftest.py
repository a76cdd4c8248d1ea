# SPDX-License-Identifier: GPL-3.0-or-later
"""A real Blender with its window, as a test asks for one.

UNDERGLASS_BLENDER names the programs, with `:` between. UNDERGLASS_NO_BLENDER says why others could not be had, a line
each: their tests are skipped for that reason.
"""

import json
import os
import shutil
import signal
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
VARIABLE, WANTING = "UNDERGLASS_BLENDER", "UNDERGLASS_NO_BLENDER"
PICTURES = ROOT / "tests" / ".cache" / "window"
DRIVER = Path(__file__).with_name("driver.py")
SCREEN = "-screen 0 1600x900x24 +extension GLX"


def blenders() -> list[str]:
    """Return the programs that are to be tried."""
    return [program for program in os.environ.get(VARIABLE, "").split(os.pathsep) if program]


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Try every test that asks for a program with each of them."""
    if "blender" not in metafunc.fixturenames:
        return
    named = [pytest.param(name, id=Path(name).name) for name in blenders()]
    reasons = os.environ.get(WANTING, "").splitlines()
    if not named and not reasons:
        reasons = [f"{VARIABLE} names no Blender with a window"]
    skipped = [pytest.param("", id="none", marks=pytest.mark.skip(reason=reason)) for reason in reasons]
    metafunc.parametrize("blender", named + skipped, scope="session")


@pytest.fixture(scope="session")
def command(
    blender: str, tmp_path_factory: pytest.TempPathFactory
) -> Callable[..., "subprocess.CompletedProcess[str]"]:
    """Return a function that runs the Blender with arguments, in a user's folder of its own, under a screen."""
    user = tmp_path_factory.mktemp("user")

    def run(*arguments: str, timeout: float = 120) -> "subprocess.CompletedProcess[str]":
        screen = [] if os.environ.get("DISPLAY") or blender.endswith(".root") else ["xvfb-run", "-a", "-s", SCREEN]
        if screen and shutil.which(screen[0]) is None:
            pytest.skip("there is no screen, and no xvfb-run to make one")
        started = subprocess.Popen(
            [*screen, blender, *arguments],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=os.environ | {"BLENDER_USER_RESOURCES": str(user)},
            start_new_session=True,
        )
        try:
            told = started.communicate(timeout=timeout)
        except BaseException:
            # the screen and whatever Blender started are of the same group
            os.killpg(started.pid, signal.SIGKILL)
            started.communicate()
            raise
        return subprocess.CompletedProcess(started.args, started.returncode, *told)

    return run


def twenty_levels(folder: Path) -> None:
    """Lay out a shot of twenty levels, most of which move."""
    import small_shots

    folder.mkdir()
    glasses = [
        small_shots.Glass(f"level {number}", 1000.0 - 45.0 * number, width=120.0 + 20.0 * number)
        for number in range(1, 21)
    ]
    rows = ["part,axis,first,last,from,to,law", "camera,height,1,96,1300,1250,sine", "camera,east,1,96,0,30,steady"]
    rows += [f"level {number},east,1,96,0,{10 + number},steady" for number in range(1, 21, 2)]
    rows += [f"level {number},north,10,80,0,{number},sine" for number in range(2, 21, 3)]
    small_shots.stack(folder, glasses, frames=(1, 96), schedule="\n".join(rows) + "\n")


@pytest.fixture(scope="session")
def window(blender: str, command: Callable[..., Any], tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Return what was found in one window that went through every step of ``driver.py``; pictures are kept."""
    import small_shots

    place = tmp_path_factory.mktemp("window")
    small_shots.line_up(place / "shot")
    for name, alpha in (("01 near", 90), ("02 middle", 120), ("03 far", 255)):
        small_shots.one_colour(place / "layers" / f"{name}.png", (230, 120, 20, alpha), (160, 120))
    pictures = PICTURES / Path(blender).name
    shutil.rmtree(pictures, ignore_errors=True)
    pictures.mkdir(parents=True)
    twenty_levels(place / "twenty")
    done = command(
        "--factory-startup",
        # the sidebar is dragged wider and narrower as by a hand
        "--enable-event-simulate",
        "--window-geometry",
        "0",
        "0",
        "1600",
        "900",
        "--python",
        str(DRIVER),
        "--",
        str(place),
        timeout=540,
    )
    log = done.stdout + done.stderr
    (pictures / "console.txt").write_text(log, encoding="utf-8")
    found = place / "found.json"
    if not found.is_file():
        pytest.fail(f"the window told nothing\n{log[-4000:]}", pytrace=False)
    for picture in place.glob("*.png"):
        shutil.copy(picture, pictures)
    return {**json.loads(found.read_text(encoding="utf-8")), "log": log, "pictures": pictures}
