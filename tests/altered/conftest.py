# SPDX-License-Identifier: GPL-3.0-or-later
"""One clean delivery of each engine, rendered once for all the kinds of alterations."""

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from altered import shots
from altered.delivery import ALL
from altered.judging import Outcome
from altered.kinds import CYCLES, EEVEE
from underglass_headless.blender.build_blend import build_scene

RENDERING = Path(__file__).parents[1] / "delivered" / "rendering.py"
# With UNDERGLASS_FAULTS=quick a slice of it all is tried in under two minutes, of one engine.
QUICK = os.environ.get("UNDERGLASS_FAULTS") == "quick"
SAMPLES = {CYCLES: 4} if QUICK else {CYCLES: 4, EEVEE: 4}
# Frames that were rendered before, for whoever works on what is said of them: a folder with those of each engine.
KEPT = "UNDERGLASS_ALTERED_FRAMES"


@dataclass(frozen=True)
class Clean:
    """The shot, and the folder of its clean frames by engine."""

    shot: Path
    frames: dict[str, Path]


@pytest.fixture(scope="session")
def clean(tmp_path_factory: pytest.TempPathFactory, run_in_blender: Callable[..., Any]) -> Clean:
    """Return the shot and its clean frames; rendered anew, or found where an environment variable says."""
    kept = os.environ.get(KEPT)
    place = Path(kept) if kept else tmp_path_factory.mktemp("altered")
    shot, frames = place / "shot" / "shot.toml", {engine: place / engine for engine in SAMPLES}
    if not shot.exists():
        shots.lay_out(shot.parent)
    for engine, samples in SAMPLES.items():
        if not frames[engine].exists():
            scene = place / f"{engine}.blend"
            build_scene(shot, output=scene, engine=engine, proof_passes=True)
            run_in_blender(RENDERING, scene, frames[engine], samples, ",".join(map(str, ALL)), timeout=1500)
    return Clean(shot, frames)


@pytest.fixture(scope="session")
def ended() -> list[Outcome]:
    """Return the list of how every kind ended, to be told as a table when all are through."""
    return []
