# SPDX-License-Identifier: GPL-3.0-or-later
"""Nothing is called wrong of a clean delivery, and what is measured of it lies within what is stated.

``python3 tests/run.py --suite altered`` judges all of them; with UNDERGLASS_FAULTS=quick twenty of them.
"""

import json
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from altered.clean_deliveries import CALLED, MOST_LEVELS, MOST_OF_EEVEE, UNTOLD, alarms, delivered, drawn, paint
from altered.conftest import QUICK
from delivered.conftest import judged
from faults.made_shots import make_shot, on_disk
from underglass.proof.proof_facts import BLOCK, Proof

pytestmark = [pytest.mark.altered, pytest.mark.timeout(7200)]

MADE = 20 if QUICK else 500
# One in four is rendered by EEVEE, in the quick slice none.
RENDERED = 2 if QUICK else 24
# Of so few pixels a level is a sliver.
SLIVER_PIXELS = 200
# An expanded uncertainty with k = 2 is meant to hold in 95 of 100 cases (JCGM 100).
COVERAGE = 0.95
SCRIPT = Path(__file__).parents[1] / "faults" / "rendering_shots.py"
# Error and uncertainty, px, and the number of pixels, of each measurement.
Rows = list[tuple[float, float, int]]


def test_made_deliveries_raise_no_alarm_and_their_uncertainty_holds(tmp_path: Path, seed: int) -> None:
    rows: Rows = []
    wrong, told = [], Counter[str]()
    for number, case in enumerate(drawn(MADE, seed)):
        shot = delivered(case, tmp_path / str(number))
        proof = judged(shot, shot.parent / "frames")
        _count(proof, case.recipe, rows, wrong, told)
    _hold(rows, wrong, told)


@pytest.mark.bpy
@pytest.mark.render
def test_rendered_deliveries_raise_no_alarm_and_their_uncertainty_holds(
    tmp_path: Path, seed: int, run_in_blender: Callable[..., Any]
) -> None:
    jobs = list(laid_out(tmp_path, seed))
    for number in range(2):
        listed = tmp_path / f"jobs{number}.jsonl"
        listed.write_text("\n".join(map(json.dumps, jobs[number::2])), encoding="utf-8")
        run_in_blender(SCRIPT, listed, timeout=3500)
    rows: Rows = []
    wrong, told = [], Counter[str]()
    for job in jobs:
        proof = judged(Path(job["shot"]) / "shot.toml", Path(job["out"]))
        recipe = f"{Path(job['shot']).name}: {job['engine']}, {job['samples']} samples"
        _count(proof, recipe, rows, wrong, told)
    _hold(rows, wrong, told)


def laid_out(folder: Path, seed: int) -> Iterable[dict[str, Any]]:
    """Lay out random shots of many levels with art that is partly clear; yield what is to be rendered of them."""
    rng = np.random.default_rng((seed, 2))
    for number in range(RENDERED):
        engine = "eevee" if number % 4 == 3 else "cycles"
        levels = (3, MOST_OF_EEVEE if engine == "eevee" else MOST_LEVELS)
        size = ((160, 120), (120, 160), (240, 180))[number % 3]
        shot = make_shot(rng, levels=levels, frames=(3, 4), frame_px=size, called=CALLED)
        place = folder / f"shot {number}"
        paint(on_disk(shot, place), place, rng, thin=engine == "cycles")
        samples = int(rng.choice([1, 4, 16] if engine == "cycles" else [4, 8]))
        yield {"shot": str(place), "engine": engine, "samples": samples, "soft": False, "out": str(place / "frames")}


def _count(proof: Proof, recipe: str, rows: Rows, wrong: list[str], told: Counter[str]) -> None:
    rows += [(m.error_px, m.uncertainty_px or 0.0, m.pixels) for m in proof.measurements if m.error_px is not None]
    wrong += [f"{recipe}: {alarm}" for alarm in alarms(proof)]
    codes = {fault.code for fault in proof.faults if fault.severity == BLOCK}
    told[" and ".join(sorted(codes & UNTOLD)) or ("an alarm" if codes else "passed")] += 1


def _hold(rows: Rows, wrong: Sequence[str], told: Counter[str]) -> None:
    """Print what was said and how well the uncertainty holds, and hold both."""
    error, stated, pixels = np.array(rows).T
    print(f"\n{sum(told.values())} clean deliveries: " + ", ".join(f"{count} {what}" for what, count in told.items()))
    held = {}
    for name, at in (("slivers", pixels < SLIVER_PIXELS), ("others", pixels >= SLIVER_PIXELS)):
        held[name] = float(np.mean(error[at] <= stated[at])) if at.any() else 1.0
        worst = float((error[at] / stated[at]).max(initial=0.0))
        print(f"{name}: {at.sum()} measurements, {held[name]:.2%} within U, the worst at {worst:.2f} U")
    print("\n".join(wrong))
    assert not wrong
    assert all(share >= COVERAGE for share in held.values())
