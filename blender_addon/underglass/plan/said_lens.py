# SPDX-License-Identifier: GPL-3.0-or-later
"""The lens as an artist said it: focal length, stop, focus and gate, kept beside the numbers that were made of them.

A camera in Blender has an image distance and no level that focus follows; what was said is taken from the reading as
long as the image distances are those that it made.
"""

import json
from dataclasses import dataclass, replace

import numpy as np

from ..shot.model import Focus, Gate, Shot
from ..shot.units import metres_from
from .plan_arrays import Floats, Ints, Tracks

# The fact of a reading's camera that holds it.
SAID = "said"
# A float of single precision, and the decimals that are kept.
_SAME = 1e-6


@dataclass(frozen=True)
class SaidLens:
    """A lens that was said: ``focal`` m, ``f_stop`` 0 without one, ``gate`` None for the shot's own."""

    focal: float
    f_stop: float
    focus: Focus
    gate: Gate | None = None


def said_lens(text: object, *, shot: Shot, frames: Ints, lens_mm: Floats, sensor_mm: Floats) -> SaidLens | None:
    """Return the lens that ``text`` keeps, None where that of the scene is another by now.

    ``lens_mm`` (F,) and ``sensor_mm`` (F,), its width, are what the scene's camera has on ``frames`` (F,).
    """
    if not isinstance(text, str):
        return None
    try:
        said = json.loads(text)
        image_mm = np.array(said["image_mm"], dtype=np.float64)
        rows = np.clip(frames - int(said["first"]), 0, len(image_mm) - 1)
        found = said_from(said)
    except (ValueError, KeyError, TypeError):
        return None
    if found.focus.level and found.focus.level not in shot.names:
        return None
    wide = (found.gate or shot.camera.gate or Gate(0.0, 0.0)).width * shot.camera.squeeze * 1000.0
    same = (np.abs(image_mm[rows] - lens_mm) <= _SAME * np.abs(lens_mm)) & (np.abs(sensor_mm - wide) <= _SAME * wide)
    return found if bool(same.all()) else None


def said_from(said: dict[str, object]) -> SaidLens:
    """Return the lens of ``said``, as it is kept; raises KeyError, TypeError or ValueError for anything else."""
    gate, focus = said.get("gate"), said["focus"]
    if gate is not None and not (isinstance(gate, list) and len(gate) == 3):
        raise ValueError("no gate")
    return SaidLens(
        focal=metres_from(float(str(said["focal_mm"])), "mm"),
        f_stop=float(str(said["f_stop"])),
        focus=Focus(level=focus)
        if isinstance(focus, str) and focus != "infinity"
        else Focus(distance=float(str(focus))),
        gate=None if gate is None else Gate(float(gate[0]), float(gate[1]), str(gate[2])),
    )


def kept_from(lens: SaidLens) -> dict[str, object]:
    """Return ``lens`` as it is kept, which `said_from` reads."""
    focus: str | float = lens.focus.level or lens.focus.distance
    return {
        "focal_mm": round(lens.focal * 1000.0, 9),
        "f_stop": lens.f_stop,
        "focus": "infinity" if focus == float("inf") else focus,
        "gate": None if lens.gate is None else [lens.gate.width, lens.gate.height, lens.gate.name],
    }


def with_lens(shot: Shot, tracks: Tracks, lens: SaidLens | None) -> tuple[Shot, Tracks]:
    """Return ``shot`` and its ``tracks`` with the lens that was said, the same focal length on every frame."""
    if lens is None:
        return shot, tracks
    camera = replace(
        shot.camera, focal=lens.focal, f_stop=lens.f_stop, focus=lens.focus, gate=lens.gate or shot.camera.gate
    )
    focal = np.full(len(tracks.frames), lens.focal)
    return replace(shot, camera=camera), replace(tracks, camera={**tracks.camera, "focal": focal})
