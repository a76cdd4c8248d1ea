# SPDX-License-Identifier: GPL-3.0-or-later
"""Test frames: the passes and the pictures of a proof rendered to files, one after another, as they come."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import bpy

from .. import blender_versions
from ..optics.sample_grid import Grid, make_grid
from ..proof.measure.passes import PassFile
from . import datum, proof_passes, scene_sources

# So many levels are rendered together on a fine grid, since each pass is a frame of floats in memory; of fewer
# pixels there may be more, up to the most that were tried.
LEVELS_A_RENDER = 8
PIXELS_OF_FINE_GRID = 600_000
MOST_LEVELS_A_RENDER = 32

# Without a datum a sample may lie anywhere within a share of what lies between two of them.
STEP_WITHOUT_DATUM = 2.0

# Renders the passes of a frame on a grid of so many pixels a step into a folder.
Render = Callable[[int, float, Path], Iterator[PassFile]]


@contextmanager
def pass_renderer(scene: Any, *, threads: int) -> Iterator[Render]:
    """Set ``scene`` up for the passes of every level; yield what renders those of a frame into a folder.

    What is yielded takes the frame, how many px lie between two samples, and the folder; each file comes once it is
    there. ``scene`` must have a camera; what is linked becomes its own, in memory; ``threads`` 0 takes every core.
    """
    scene_sources.make_local(scene)
    proof_passes.quiet(scene, threads=threads)
    size = scene.render.resolution_x, scene.render.resolution_y
    with proof_passes.passes(scene) as levels, _Kept(scene) as kept:

        def render(frame: int, step: float, folder: Path) -> Iterator[PassFile]:
            scene.frame_set(frame)
            _set_size(scene, *size)
            placed = datum.place(levels.datum, scene, glasses=levels.glasses.values())
            levels.datum.hide_render = placed is None
            roundings = datum.roundings(levels.glasses, scene)
            if placed is None:
                step = min(step, STEP_WITHOUT_DATUM)
            grid = make_grid(size, step=step, upright=_is_upright(scene), aspect=_aspect(scene))
            _set_size(scene, grid.columns, grid.rows)
            for index, batch in enumerate(levels.batches(_levels_a_render(grid))):
                path = folder / f"uv-{frame}-{index}.exr"
                batch.select()
                kept.serves((grid.columns, grid.rows, *batch.names))
                _still(scene, path)
                yield PassFile(frame, path, batch.names, grid, placed, {name: roundings[name] for name in batch.names})

        yield render


class _Kept:
    """What a render has set up, kept for the next one while that is laid out alike, and let go of at the end.

    In Blender 5.0 a render of another size that goes on with what was kept writes beyond its memory.
    """

    def __init__(self, scene: Any) -> None:
        self._scene = scene
        self._layout: tuple[object, ...] = ()

    def __enter__(self) -> "_Kept":
        return self

    def serves(self, layout: tuple[object, ...]) -> None:
        """Say that the next render is laid out so."""
        if layout != self._layout:
            blender_versions.keep_render_data(self._scene, on=False)
            blender_versions.keep_render_data(self._scene, on=True)
        self._layout = layout

    def __exit__(self, *_: object) -> None:
        blender_versions.keep_render_data(self._scene, on=False)


def _levels_a_render(grid: Grid) -> int:
    more = PIXELS_OF_FINE_GRID // (grid.columns * grid.rows)
    return min(MOST_LEVELS_A_RENDER, LEVELS_A_RENDER * max(1, more))


def _set_size(scene: Any, width: int, height: int) -> None:
    scene.render.resolution_x, scene.render.resolution_y = width, height


def _aspect(scene: Any) -> float:
    return float(scene.render.pixel_aspect_x / scene.render.pixel_aspect_y)


def _is_upright(scene: Any) -> bool:
    """Return whether the sensor is fitted to the frame's height."""
    fit = scene.camera.data.sensor_fit
    if fit == "AUTO":
        return bool(scene.render.resolution_x * _aspect(scene) < scene.render.resolution_y)
    return bool(fit == "VERTICAL")


def render_pictures(
    scene: Any, *, frames: Sequence[int], folder: Path, samples: int, depth_of_field: bool, width: int = 0
) -> Iterator[tuple[int, Path]]:
    """Render the picture itself on ``frames``, ``width`` px across or all of the frame's, and yield (frame, file).

    ``scene`` has to be quiet already, as passes leave it.
    """
    proof_passes.prepare_picture(scene, samples=samples, depth_of_field=depth_of_field)
    size = scene.render.resolution_x, scene.render.resolution_y
    if 0 < width < size[0]:
        grid = make_grid(size, step=size[0] / width, upright=_is_upright(scene), aspect=_aspect(scene))
        _set_size(scene, grid.columns, grid.rows)
    try:
        for frame in frames:
            scene.frame_set(frame)
            path = folder / f"picture-{frame}.exr"
            _still(scene, path)
            yield frame, path
    finally:
        _set_size(scene, *size)


def _still(scene: Any, path: Path) -> None:
    scene.render.filepath = str(path)
    bpy.ops.render.render(write_still=True)
    if not path.is_file():
        raise RuntimeError(f"Blender wrote no {path.name}")
