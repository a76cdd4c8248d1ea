# SPDX-License-Identifier: GPL-3.0-or-later
"""What was said of the lens, as a mark on its camera: kept, read as a fact of the scene, and forgotten.

What it means, and when it counts no longer, is `plan.said_lens`.
"""

import json
from typing import Any

from ..plan.plan_arrays import Floats, Ints
from ..plan.said_lens import SAID, SaidLens, kept_from
from . import stack_marks

LENS = "underglass_lens"
# Places of a millimetre that are kept: below what single precision tells of a lens.
_DECIMALS = 7
# Lenses that differ by less than this share are the same one: single precision, and curves between their keys.
_SAME = 1e-5


def say(data: Any, lens: SaidLens, *, frames: Ints, image: Floats) -> None:
    """Keep on a camera what was said of its lens, and the image distances (F,) m that it makes on ``frames``."""
    image_mm = [round(float(value) * 1000.0, _DECIMALS) for value in image]
    data[LENS] = json.dumps({**kept_from(lens), "first": int(frames[0]), "image_mm": image_mm})


def forget(data: Any) -> None:
    """Keep nothing of what was said."""
    if LENS in data:
        del data[LENS]


def shift(data: Any, frames: int) -> None:
    """Have what was said be said of so many ``frames`` later."""
    if isinstance(said := data.get(LENS), str):
        kept = json.loads(said)
        data[LENS] = json.dumps({**kept, "first": kept["first"] + frames})


def own_lens_mm(data: Any, *, frame: int, planned_mm: float) -> float | None:
    """Return Blender's own lens, mm, where it is not what the lens that was said makes of it on ``frame``, else None.

    Nothing was said: it is then the image distance that is ``planned_mm``.
    """
    made = planned_mm
    if isinstance(said := data.get(LENS), str):
        kept = json.loads(said)
        made = kept["image_mm"][min(max(frame - kept["first"], 0), len(kept["image_mm"]) - 1)]
    return float(data.lens) if abs(data.lens - made) > _SAME * made else None


def facts(camera: Any) -> dict[str, str]:
    """Return what was said of the lens of ``camera``, and the level that it is focused on, as facts of its reading."""
    if camera is None or camera.type != "CAMERA":
        return {}
    found = {}
    if isinstance(said := camera.data.get(LENS), str):
        found[SAID] = said
    target = camera.data.dof.focus_object
    if target is not None and stack_marks.LEVEL in target:
        found["focused_on"] = str(target[stack_marks.LEVEL])
    return found
