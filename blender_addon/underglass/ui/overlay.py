"""In the viewport: the field at every level, edges soon uncovered, paths, limits of focus. Drawn, never computed twice.

Lines are made and handed over for a run of frames at once; a frame change draws another part of the same batch.
"""

from dataclasses import dataclass, field
from typing import Any

import bpy
import gpu
from gpu_extras.batch import batch_for_shader

from . import lines, live

WIDTH = 1.6
SHADER = "POLYLINE_FLAT_COLOR"
# Frames whose lines are made at once: many enough to be seldom, few enough that it goes unnoticed while a level is
# dragged, which begins anew with every step of the hand.
RUN = 96


@dataclass
class _Kept:
    """What was drawn last of one scene: of which moment it is, and the batches, by what they show.

    ``runs`` are batches by the number of their run, each with where its frames start; ``wanted`` is what they show.
    """

    now: live.Live
    shader: Any
    outlines: lines.Outlines
    paths: Any = None
    has_paths: bool = False
    wanted: tuple[bool, ...] = ()
    runs: dict[int, tuple[Any, tuple[int, ...]]] = field(default_factory=dict)


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
    now = live.live(scene)
    if now is None or now.plan is None or not context.space_data.overlay.show_overlays:
        return
    kept = _kept.get(scene.as_pointer())
    if kept is None or kept.now is not now:
        kept = _kept[scene.as_pointer()] = _begun(now)
    settings = scene.underglass
    batch, start, count = _of_frame(kept, scene.frame_current, settings)
    paths = _paths(kept) if settings.show_paths else None
    if not count and paths is None:
        return
    shader = kept.shader
    gpu.state.blend_set("ALPHA")
    gpu.state.depth_test_set("LESS_EQUAL")
    shader.bind()
    shader.uniform_float("viewportSize", gpu.state.viewport_get()[2:])
    shader.uniform_float("lineWidth", WIDTH * context.preferences.system.ui_scale)
    if count:
        # a count of nothing would draw all
        batch.draw_range(shader, elem_start=start, elem_count=count)
    if paths is not None:
        paths.draw(shader)
    gpu.state.depth_test_set("NONE")
    gpu.state.blend_set("NONE")


def _begun(now: live.Live) -> _Kept:
    """Return what is kept of a moment before anything of it was drawn."""
    outlines = lines.outlines(now.plan, corners=now.corners, reach=now.reach)
    return _Kept(now, gpu.shader.from_builtin(SHADER), outlines)


def _paths(kept: _Kept) -> Any:
    """Return the batch of the paths, which no frame changes; None where nothing moves."""
    if not kept.has_paths:
        kept.paths, kept.has_paths = _batch(kept.shader, *lines.path_lines(kept.now.plan)), True
    return kept.paths


def _of_frame(kept: _Kept, frame: int, settings: Any) -> tuple[Any, int, int]:
    """Return the batch that holds the lines of ``frame``, where they start in it, and how many points they are."""
    wanted = (settings.show_field, settings.show_edges, settings.show_focus)
    if kept.wanted != wanted:
        kept.wanted = wanted
        kept.runs.clear()
    number, place = divmod(live.row_of(kept.now.plan, frame), RUN)
    if number not in kept.runs:
        show_field, show_edges, show_focus = wanted
        rows = range(number * RUN, min((number + 1) * RUN, len(kept.now.plan.frames)))
        run = lines.run_lines(kept.outlines, rows, field=show_field, edges=show_edges, focus=show_focus)
        kept.runs[number] = _batch(kept.shader, run.points, run.colours), run.starts
    batch, starts = kept.runs[number]
    return batch, starts[place], starts[place + 1] - starts[place]


def _batch(shader: Any, points: lines.Points, colours: lines.Points) -> Any:
    return batch_for_shader(shader, "LINES", {"pos": points, "color": colours}) if len(points) else None


CLASSES: tuple[type, ...] = ()
