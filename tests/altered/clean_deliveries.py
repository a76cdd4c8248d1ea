# SPDX-License-Identifier: GPL-3.0-or-later
"""Clean deliveries that are drawn by a seed: of up to 18 levels, turned, squeezed, in tiny frames and large ones.

Most are made without Blender. Nothing is wrong with any of them, so nothing may be called wrong, and what is measured
of them has to lie within the uncertainty that is stated.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from PIL import Image

from delivered.made_frames import Making, write_frames
from faults.made_shots import NAMES, make_shot, on_disk
from underglass.plan import make_plan
from underglass.proof.proof_facts import BLOCK, Proof
from underglass.shot import NO_DRAWING, Shot

MOST_LEVELS = 18
# EEVEE holds passes of so many levels.
MOST_OF_EEVEE = 14
CALLED = (*NAMES, "gate", "mist", "far tower", "near grass", "rope", "window")
# Sizes of frames, and how often each is drawn: what is large takes long.
SIZES = ((32, 24), (48, 64), (80, 60), (160, 120), (240, 180), (320, 120), (640, 480), (1280, 720))
HOW_OFTEN = (0.08, 0.08, 0.14, 0.34, 0.24, 0.08, 0.03, 0.01)
# Samples a pixel; 0 is one at the pixel's centre.
SAMPLES = (0, 1, 2, 4, 8, 16)
SAMPLES_OF_LARGE = 2
LARGE_PX = 200_000
# Codes that say of a level that these frames cannot tell it, which is no alarm.
UNTOLD = {"too-coarse", "only-scene-tells", "not-proved"}


@dataclass(frozen=True)
class Clean:
    """One clean delivery: its shot, how its frames are made, and which of them are."""

    seed: int
    making: Making
    levels: tuple[int, int]
    size: tuple[int, int]

    @property
    def recipe(self) -> str:
        """Tell it on one line."""
        engine = "EEVEE" if self.making.eevee else "Cycles"
        return f"seed {self.seed}: {engine}, {self.making.samples} samples, {self.size[0]}×{self.size[1]} px"


def drawn(count: int, seed: int) -> Iterator[Clean]:
    """Yield ``count`` clean deliveries."""
    for number in range(count):
        rng = np.random.default_rng((seed, number))
        eevee = rng.random() < 0.3
        size = SIZES[rng.choice(len(SIZES), p=HOW_OFTEN)]
        samples = int(rng.choice(SAMPLES))
        if size[0] * size[1] > LARGE_PX:
            samples = min(samples, SAMPLES_OF_LARGE)
        making = Making(
            samples=max(1, samples) if eevee else samples,
            eevee=eevee,
            half=bool(rng.random() < 0.1),
            compression=str(rng.choice(["ZIP", "ZIPS", "PIZ", "PXR24"], p=[0.5, 0.2, 0.2, 0.1])),
            seed=number,
        )
        most = MOST_OF_EEVEE if eevee else MOST_LEVELS
        few = bool(rng.random() < 0.4)
        yield Clean(int(rng.integers(1 << 30)), making, (1, 7) if few else (8, most), size)


def shot_of(case: Clean, folder: Path) -> Shot:
    """Lay out the shot of a delivery, its art opaque: made frames know no other."""
    rng = np.random.default_rng(case.seed)
    shot = make_shot(rng, levels=case.levels, frames=(3, 4), frame_px=case.size, called=CALLED)
    # Made frames show no difference between drawings, only whether there is one.
    rows = tuple(tuple(name if name == NO_DRAWING else "1" for name in row) for row in shot.drawings.rows)
    shot = on_disk(replace(shot, drawings=replace(shot.drawings, rows=rows)), folder)
    paint(shot, folder, rng, thin=False)
    return shot


def paint(shot: Shot, folder: Path, rng: np.random.Generator, *, thin: bool) -> None:
    """Paint the art of all levels with patches of its own, all of it opaque, or with ``thin`` some of it half clear."""
    for level in shot.levels:
        alpha = 128 if thin and rng.random() < 0.2 else 255
        for drawing in shot.drawings.of(level.name) if level.has_drawings else ("",):
            pixels = rng.integers(60, 230, (level.art_px[1], level.art_px[0], 4), dtype=np.uint8)
            pixels[..., 3] = alpha
            Image.fromarray(pixels).save(folder / level.art.replace("{drawing}", drawing))


def delivered(case: Clean, folder: Path) -> Path:
    """Write shot and frames of a delivery into ``folder``; return its shot.toml."""
    plan = make_plan(shot_of(case, folder))
    for frame, drawing in zip(plan.frames.tolist(), plan.drawing, strict=True):
        # A level without a drawing is clear: Cycles writes its pass all the same, EEVEE nothing.
        none = tuple(
            level.name for level, at in zip(plan.shot.levels, drawing, strict=True) if at < 0 and level.has_drawings
        )
        making = replace(case.making, clear=none, hidden=none if case.making.eevee else ())
        write_frames(plan, folder / "frames", frames=[frame], making=making)
    return folder / "shot.toml"


def alarms(proof: Proof) -> list[str]:
    """Return what a proof of a clean delivery calls wrong, beside what it says these frames cannot tell."""
    return [f"{f.code}: {f.message}" for f in proof.faults if f.severity == BLOCK and f.code not in UNTOLD]
