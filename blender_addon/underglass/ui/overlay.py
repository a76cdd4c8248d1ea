"""In the viewport: the field at every level, edges soon uncovered, paths, limits of focus. Drawn, never computed twice.

What does not change from frame to frame is kept, and the rest is a few dozen points; `lines` puts them together.
"""

from dataclasses import dataclass
from typing import Any

import bpy
import gpu
from gpu_extras.batch import batch_for_shader

from . import lines, live

WIDTH = 1.6
SHADER = "POLYLINE_FLAT_COLOR"


@dataclass
class _Kept:
    """What was drawn last of one scene: of which moment it is, and the batches, by what they show."""

    now: live.Live
    outlines: lines.Outlines
    paths: Any = None
    frame: tuple[Any, ...] = ()
    batch: Any = None


_handle: Any = None
_kept: dict[int, _Kept] = {}


def attach() -> None:
    """Begin to draw in every 3D viewport."""
    global _handle
    _handle = bpy.types.SpaceView3D.draw_handler_add(_draw, (), "WINDOW", "POST_VIEW")


def detach() -> None:
    """Draw no longer."""
    global _handle
    if _handle is not None:
        bpy.types.SpaceView3D.draw_handler_remove(_handle, "WINDOW")
        _handle = None
    _kept.clear()


def _draw() -> None:
    context = bpy.context
    scene, settings = context.scene, context.scene.underglass
    if not settings.shot_file or not context.space_data.overlay.show_overlays:
        return
    now = live.live(scene)
    if now is None or now.plan is None:
        return
    kept = _kept.get(scene.as_pointer())
    if kept is None or kept.now is not now:
        outlines = lines.outlines(now.plan, corners=now.corners, reach=now.reach)
        kept = _kept[scene.as_pointer()] = _Kept(now, outlines)
    shader = gpu.shader.from_builtin(SHADER)
    gpu.state.blend_set("ALPHA")
    gpu.state.depth_test_set("LESS_EQUAL")
    shader.bind()
    shader.uniform_float("viewportSize", gpu.state.viewport_get()[2:])
    shader.uniform_float("lineWidth", WIDTH * context.preferences.system.ui_scale)
    for batch in (_of_frame(kept, shader, scene.frame_current, settings), _paths(kept, shader, settings)):
        if batch is not None:
            batch.draw(shader)
    gpu.state.depth_test_set("NONE")
    gpu.state.blend_set("NONE")


def _of_frame(kept: _Kept, shader: Any, frame: int, settings: Any) -> Any:
    """Return the batch of the present frame; one viewport more, or one drawn again, makes no other."""
    wanted = (live.row_of(kept.now.plan, frame), settings.show_field, settings.show_edges, settings.show_focus)
    if kept.frame != wanted:
        row, field, edges, focus = wanted
        kept.batch = _batch(shader, lines.frame_lines(kept.outlines, row, field=field, edges=edges, focus=focus))
        kept.frame = wanted
    return kept.batch


def _paths(kept: _Kept, shader: Any, settings: Any) -> Any:
    """Return the batch of the paths, which no frame changes."""
    if not settings.show_paths:
        return None
    if kept.paths is None:
        kept.paths = _batch(shader, lines.path_lines(kept.now.plan))
    return kept.paths


def _batch(shader: Any, made: lines.Lines) -> Any:
    points, colours = made
    return batch_for_shader(shader, "LINES", {"pos": points, "color": colours}) if len(points) else None


CLASSES: tuple[type, ...] = ()
