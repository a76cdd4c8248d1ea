"""Test frames: the passes and the pictures of a proof rendered to files, one after another, as they come."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import bpy

from . import origin, proofpass


@dataclass(frozen=True)
class PassFile:
    """One file of passes: ``names`` are those in it, rendered on every ``step``-th pixel of a frame of ``size`` px."""

    frame: int
    path: Path
    names: tuple[str, ...]
    size: tuple[int, int]
    step: int


@contextmanager
def pass_renderer(
    scene: Any, *, step: int, batch: int, threads: int
) -> Iterator[Callable[[int, Path], Iterator[PassFile]]]:
    """Set ``scene`` up for the passes of every level; yield what renders those of a frame into a folder.

    Each file is yielded once it is there. ``scene`` must have a camera; what is linked becomes its own, in memory.
    ``step`` is taken where it divides the frame; ``threads`` 0 takes every core.
    """
    origin.make_local(scene)
    proofpass.quiet(scene, threads=threads)
    step = proofpass.fitting_step(scene, step)
    size = scene.render.resolution_x, scene.render.resolution_y
    with proofpass.passes(scene, step=step, batch=batch) as batches:

        def render(frame: int, folder: Path) -> Iterator[PassFile]:
            scene.frame_set(frame)
            for index, levels in enumerate(batches):
                path = folder / f"uv-{frame}-{index}.exr"
                levels.select()
                _still(scene, path)
                yield PassFile(frame, path, levels.names, size, step)

        yield render


def render_passes(
    scene: Any, *, frames: Sequence[int], folder: Path, step: int, batch: int, threads: int
) -> Iterator[PassFile]:
    """Render the passes of every level on the test ``frames`` and yield each file once it is there."""
    with pass_renderer(scene, step=step, batch=batch, threads=threads) as render:
        for frame in frames:
            yield from render(frame, folder)


def render_pictures(
    scene: Any, *, frames: Sequence[int], folder: Path, samples: int, depth_of_field: bool
) -> Iterator[tuple[int, Path]]:
    """Render the picture itself on the test ``frames`` and yield (frame, file) of each.

    ``scene`` has to be quiet already, as passes leave it.
    """
    proofpass.prepare_picture(scene, samples=samples, depth_of_field=depth_of_field)
    for frame in frames:
        scene.frame_set(frame)
        path = folder / f"picture-{frame}.exr"
        _still(scene, path)
        yield frame, path


def _still(scene: Any, path: Path) -> None:
    scene.render.filepath = str(path)
    bpy.ops.render.render(write_still=True)
    if not path.is_file():
        raise RuntimeError(f"Blender wrote no {path.name}")
