# SPDX-License-Identifier: GPL-3.0-or-later
"""Reading aside: the stack on every frame, evaluated in a scene of its own that goes again.

The open scene keeps its frame, and what the hand has moved and not keyed stays where it is: Blender writes into the
file only what the scene on screen evaluates to. Whatever moves a level is evaluated with it, parents and drivers too.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any

import bpy
import numpy as np

from .. import blender_versions
from ..reading.scene_reading import SceneReading
from . import lens_marks, read_settings, stack_marks
from .read_scene import Rows, camera_facts, read_camera


def read_aside(scene: Any, frames: Iterable[int]) -> SceneReading:
    """Return what the stack of ``scene`` evaluates to on every one of ``frames``, seen by the stand's own camera.

    What else is in the scene is not looked at: no things, no paint.
    """
    numbers = np.fromiter(frames, dtype=np.int64)
    glasses, eye = stack_marks.levels(scene), stack_marks.stand_camera(scene)
    objects = [obj for _, obj in glasses]
    rows = Rows.empty(len(numbers), objects, in_layer=True)
    with _evaluated(scene, [*objects, *([eye] if eye is not None else [])]) as (alone, layer):
        for row, frame in enumerate(numbers.tolist()):
            alone.frame_set(frame)
            depsgraph = layer.depsgraph
            rows.read(row, objects, depsgraph)
            read_camera(rows.camera, row, eye, depsgraph)
    return SceneReading(
        blender=blender_versions.VERSION_TEXT,
        frames=numbers,
        corners=rows.corners,
        hidden=rows.hidden,
        camera=rows.camera,
        levels=rows.levels(glasses, lambda _: True),
        settings=read_settings.settings_of(scene),
        others=(),
        camera_facts=camera_facts(eye, []) | lens_marks.facts(eye),
    )


@contextmanager
def _evaluated(scene: Any, objects: list[Any]) -> Iterator[tuple[Any, Any]]:
    """Yield a scene that has ``objects`` alone, at the rate of ``scene``, and its view layer."""
    alone = bpy.data.scenes.new("underglass reads")
    try:
        alone.render.fps, alone.render.fps_base = scene.render.fps, scene.render.fps_base
        for obj in dict.fromkeys(objects):
            alone.collection.objects.link(obj)
        yield alone, alone.view_layers[0]
    finally:
        # Removed as a scene it would be looked for in the window, which a timer has none of: 4.3 then ends at once.
        bpy.data.batch_remove([alone])
