# SPDX-License-Identifier: GPL-3.0-or-later
"""What was typed into Blender's own fields of the lens over their keys: it stands until the frame changes."""

from typing import Any

from .. import blender_versions

# The fields of a camera that the stand's lens is keyed in.
PATHS = ("lens", "dof.aperture_fstop", "dof.focus_distance")
# Values that differ by less than this share are the same one: single precision, and curves between their keys.
_SAME = 1e-5


def typed_over(scene: Any, data: Any) -> dict[str, float]:
    """Return the paths of the fields of the camera ``data`` that have another value on this frame than their keys."""
    frame, found = scene.frame_current_final, {}
    for curve in blender_versions.fcurves_of(data):
        if curve.data_path in PATHS and not curve.mute:
            value, keyed = float(data.path_resolve(curve.data_path)), curve.evaluate(frame)
            if abs(value - keyed) > _SAME * max(abs(value), abs(keyed)):
                found[curve.data_path] = value
    return found


def keyed_paths(data: Any) -> set[str]:
    """Return which fields of the camera ``data`` are keyed."""
    return {curve.data_path for curve in blender_versions.fcurves_of(data) if not curve.mute} & {*PATHS}
