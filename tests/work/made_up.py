# SPDX-License-Identifier: GPL-3.0-or-later
"""Jobs, fits and results as tests want them, made without Blender."""

from pathlib import Path

import numpy as np

from underglass.proof.measure.measured_corners import Fit
from underglass.proof.measure.passes import Lattice, MeasuredFrame
from underglass_headless.work.unit_results import named_by_content, result_text
from underglass_headless.work.units_of_work import PASSES, PICTURE, READ, SWEEP, Job, Unit

READING = Unit(READ, (1, 12))
FRAME = Unit(PASSES, (12,), step=2)
RUN = Unit(SWEEP, (2, 3, 4))
LOOK = Unit(PICTURE, (12,), samples=1)


def job(folder: Path, *, key: str = "0123456789abcdef", scene: Path | None = None) -> Job:
    """Return a job on a shot in ``folder``."""
    return Job(folder / "shot.toml", scene, "fedcba9876543210", (1, 24), (("Blender", "5.0.1"),), key, (320, 240), 2)


def fit(seed: int = 0) -> Fit:
    """Return a fit with numbers that no decimal of fewer than 17 digits spells."""
    numbers = np.random.default_rng(seed).normal(size=20) / 3.0
    size, left, worst, strange = (abs(float(number)) for number in numbers[16:])
    corners, seen = numbers[:8].reshape(4, 2), numbers[8:16].reshape(4, 2)
    return Fit(corners, size, left, 4321, seed % 2 == 1, 1e5 / 3, seen, size / 3, worst, 5, strange, 6, 7)


def seen_on(frame: int) -> MeasuredFrame:
    """Return what a frame says in which one level is seen and one is not."""
    lattice = Lattice(1.9 / 3, 115, 84, (0.1 / 3, 0.2 / 3), (1.1 / 3, 1.2 / 3), (0.3 / 3, 0.4 / 3), 0.5 / 3, 8, True)
    return MeasuredFrame({0: fit(frame), 1: None}, lattice, {0: 4321, 1: 3})


def put(folder: Path, unit: Unit, *, content: bytes = b"pixels", depends: dict[str, str] | None = None) -> Path:
    """Make the files of ``unit`` in ``folder`` as Blender's process does, and return its JSON."""
    folder.mkdir(parents=True, exist_ok=True)
    files, measured = [], {}
    if unit.kind in {SWEEP, PASSES}:
        measured = {frame: seen_on(frame) for frame in unit.frames}
    else:
        path = folder / f"{unit.name}{'.npz' if unit.kind == READ else '.exr'}"
        path.write_bytes(content)
        files = [named_by_content(path, unit)]
        if unit.kind == PICTURE:
            files.append(files[0].with_suffix(".png"))
            files[1].write_bytes(content)
    text = result_text(
        unit, blender="5.0.1", files={p.name: p for p in files}, rendered=True, measured=measured, depends=depends or {}
    )
    (folder / unit.result_file).write_text(text)
    return folder / unit.result_file
