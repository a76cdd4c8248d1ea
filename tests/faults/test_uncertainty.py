# SPDX-License-Identifier: GPL-3.0-or-later
"""The uncertainty that is stated of delivered frames, held against renders of random shots, by engine and samples.

What is stated of a proof's own passes is held against many more, in `test_faults`.
"""

import json
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from delivered.conftest import judged
from faults.made_shots import make_shot, on_disk
from underglass.shot import Projection

pytestmark = [pytest.mark.faults, pytest.mark.bpy, pytest.mark.render, pytest.mark.timeout(3600)]

QUICK = os.environ.get("UNDERGLASS_FAULTS") == "quick"
SHOTS = 1 if QUICK else 2
SIZES = [(320, 240)] if QUICK else [(320, 240), (640, 480)]
# Engine, samples a pixel, and whether the lens draws soft what is out of focus.
ENGINES = [
    ("cycles", 1, False),
    ("cycles", 4, False),
    ("cycles", 32, False),
    ("cycles", 4, True),
    ("eevee", 4, False),
    ("eevee", 16, False),
]
# EEVEE renders slowly without a graphics card.
if QUICK:
    ENGINES = [("cycles", 4, False)]
# JCGM 100: an expanded uncertainty with k = 2 is meant to hold in 95 of 100 cases; it should be no more than three
# times what that takes.
COVERAGE = 0.95
MOST_TOO_LARGE = 3.0
# Coarse enough that no measurement fails for its uncertainty.
TOLERANCE_PX = 5.0


def test_what_is_stated_of_delivered_frames_is_true(
    tmp_path: Path, run_in_blender: Callable[..., Any], seed: int
) -> None:
    jobs = laid_out(tmp_path, seed)
    rendered(jobs, tmp_path, run_in_blender)
    lines = ["", HEAD, "| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |"]
    wrong = []
    for engine, samples, soft in ENGINES:
        for size in SIZES:
            wanted = {"engine": engine, "samples": samples, "soft": soft, "px": list(size)}
            mine = [job for job in jobs if wanted.items() <= job.items()]
            told = np.array([row for job in mine for row in measured(job)])
            error, stated = told.T
            held, over = np.mean(error <= stated), 1 / np.quantile(error / stated, COVERAGE)
            cells = [engine, samples, "yes" if soft else "no", size[0], len(told), f"{np.median(error):.4f}"]
            cells += [f"{np.quantile(error, COVERAGE):.4f}", f"{np.median(stated):.4f}", f"{held:.1%}", f"{over:.2f}"]
            lines.append(f"| {' | '.join(map(str, cells))} |")
            if held < COVERAGE or over > MOST_TOO_LARGE:
                wrong.append(lines[-1])
    print("\n".join(lines))
    assert not wrong


HEAD = (
    "| engine | samples | depth of field | px across | measurements | error mostly | 95 % within | U mostly, px |"
    " within U | U over what it need be |"
)


def laid_out(folder: Path, seed: int) -> list[dict[str, Any]]:
    """Lay out random shots, the same for every engine, their art opaque; return what is to be rendered of them."""
    rng = np.random.default_rng(seed)
    jobs = []
    for size in SIZES:
        for number in range(SHOTS):
            place = folder / f"shot {size[0]} {number}"
            shot = make_shot(rng, levels=(3, 5), frames=(6, 8), frame_px=size, projection=Projection.PERSPECTIVE)
            for path in (on_disk(shot, place).folder / "art").iterdir():
                with Image.open(path) as art:
                    # EEVEE writes nothing of what is nowhere opaque
                    size_px = art.size
                Image.new("RGBA", size_px, (128, 128, 128, 255)).save(path)
            for engine, samples, soft in ENGINES:
                out = folder / f"{place.name} {engine} {samples} {soft}"
                jobs.append(
                    {
                        "shot": str(place),
                        "engine": engine,
                        "samples": samples,
                        "soft": soft,
                        "out": str(out),
                        "px": list(size),
                    }
                )
    return jobs


def rendered(jobs: list[dict[str, Any]], folder: Path, run_in_blender: Callable[..., Any]) -> None:
    """Render all ``jobs``, on all cores."""
    share = min(len(os.sched_getaffinity(0)), len(jobs))
    lists = []
    for number in range(share):
        lists.append(folder / f"jobs{number}.jsonl")
        lists[-1].write_text("\n".join(map(json.dumps, jobs[number::share])), encoding="utf-8")
    script = Path(__file__).with_name("rendering_shots.py")
    with ThreadPoolExecutor(share) as pool:
        list(pool.map(lambda one: run_in_blender(script, one, timeout=3000), lists))


def measured(job: dict[str, Any]) -> list[tuple[float, float]]:
    """Return error and uncertainty of every measurement of the frames of one job."""
    proof = judged(Path(job["shot"]) / "shot.toml", Path(job["out"]), tolerance_px=TOLERANCE_PX, threads=1)
    return [(m.error_px, m.uncertainty_px or 0.0) for m in proof.measurements if m.error_px is not None]
