# SPDX-License-Identifier: GPL-3.0-or-later
"""In the viewport: the field at every level, edges soon uncovered, paths, limits of focus. Drawn, never computed twice.

Lines are made for a run of frames at once; a frame change hands over its part of them, which is a few dozen points.
"""

from dataclasses import dataclass
from functools import cache
from typing import Any

import bpy
import gpu

from . import live_stack, viewport_lines

WIDTH = 1.6
SHADER = "POLYLINE_FLAT_COLOR"
# Frames whose lines are made at once: many enough to be seldom, few enough that it goes unnoticed while a level is
# dragged, which begins anew with every step of the hand.
RUN = 96


@dataclass
class _Kept:
    """What was drawn last of one scene: of which moment it is, and what of it was made.

    ``made`` is which run of frames ``run`` is of and what it shows; ``batch`` is that of its row ``row``.
    """

    now: live_stack.Live
    shader: Any
    outlines: viewport_lines.Outlines
    paths: Any = None
    has_paths: bool = False
    made: tuple[int, bool, bool, bool] | None = None
    run: viewport_lines.Run | None = None
    row: int = -1
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
    scene = context.scene
    now = live_stack.live(scene)
    if now is None or now.plan is None or not context.space_data.overlay.show_overlays:
        return
    kept = _kept.get(scene.as_pointer())
    if kept is None or kept.now is not now:
        kept = _kept[scene.as_pointer()] = _begun(now)
    settings = scene.underglass
    batches = [_of_frame(kept, scene.frame_current, settings)]
    if settings.show_paths:
        batches.append(_paths(kept))
    shader = kept.shader
    gpu.state.blend_set("ALPHA")
    gpu.state.depth_test_set("LESS_EQUAL")
    shader.bind()
    shader.uniform_float("viewportSize", gpu.state.viewport_get()[2:])
    shader.uniform_float("lineWidth", WIDTH * context.preferences.system.ui_scale)
    for batch in batches:
        if batch is not None:
            batch.draw(shader)
    gpu.state.depth_test_set("NONE")
    gpu.state.blend_set("NONE")


def _begun(now: live_stack.Live) -> _Kept:
    """Return what is kept of a moment before anything of it was drawn."""
    outlines = viewport_lines.outlines(now.plan, corners=now.corners, reach=now.reach)
    return _Kept(now, gpu.shader.from_builtin(SHADER), outlines)


def _paths(kept: _Kept) -> Any:
    """Return the batch of the paths, which no frame changes; None where nothing moves."""
    if not kept.has_paths:
        kept.paths, kept.has_paths = _batch(*viewport_lines.path_lines(kept.now.plan)), True
    return kept.paths


def _of_frame(kept: _Kept, frame: int, settings: Any) -> Any:
    """Return the batch of ``frame``; one viewport more, or one drawn again, makes no other."""
    row = live_stack.row_of(kept.now.plan, frame)
    number, place = divmod(row, RUN)
    field, edges, focus = settings.show_field, settings.show_edges, settings.show_focus
    if kept.made != (number, field, edges, focus):
        rows = range(number * RUN, min((number + 1) * RUN, kept.now.shot.frame_count))
        kept.run = viewport_lines.run_lines(kept.outlines, rows, field=field, edges=edges, focus=focus)
        kept.made, kept.row = (number, field, edges, focus), -1
    if kept.row != row and kept.run is not None:
        # a part of a batch cannot be drawn: of lines wider than a pixel Blender 5.2 then takes wrong ends
        part = slice(*kept.run.starts[place : place + 2])
        kept.batch, kept.row = _batch(kept.run.points[part], kept.run.colours[part]), row
    return kept.batch


def _batch(points: viewport_lines.Points, colours: viewport_lines.Points) -> Any:
    """Return the batch of some lines, None where there are none."""
    if not len(points):
        return None
    buffer = gpu.types.GPUVertBuf(_format(), len(points))
    buffer.attr_fill("pos", points)
    buffer.attr_fill("color", colours)
    return gpu.types.GPUBatch(type="LINES", buf=buffer)


@cache
def _format() -> Any:
    """Return how places and colours lie in memory; to have it worked out from the shader takes as long as the rest."""
    made = gpu.types.GPUVertFormat()
    made.attr_add(id="pos", comp_type="F32", len=3, fetch_mode="FLOAT")
    made.attr_add(id="color", comp_type="F32", len=4, fetch_mode="FLOAT")
    return made


CLASSES: tuple[type, ...] = ()
