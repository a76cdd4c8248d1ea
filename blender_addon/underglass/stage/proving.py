"""Proving where one is: a scene is read, rendered and measured against a plan in this very process of Blender.

Settings of the scene are changed and not put back: it is for a copy that nobody works on.
"""

import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import bpy
import numpy as np

from ..plan.model import Plan
from ..plan.reading import SceneReading
from ..proof.facts import Proof
from ..proof.frames import frames_to_test
from ..proof.measure import Fit
from ..proof.pass_file import read_pass_file
from ..proof.passes import LEVELS_A_RENDER, measure_file, object_number
from ..proof.picture import codes_from_light, no_wider, over_black, png
from ..proof.verdict import DEFAULT_TOLERANCE_PX, judge_scene
from ..shot import UnderglassError
from . import build, readback, testframes

# A picture for a window is as wide as a window shows it.
PICTURE_WIDTH = 960

Tell = Callable[[str, int, int], None]
Fits = dict[tuple[int, int], Fit | None]


@dataclass
class _Clock:
    """How long each stage of the work took, s."""

    seconds: dict[str, float] = field(default_factory=dict)
    begun: float = field(default_factory=time.monotonic)

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        since = time.monotonic()
        yield
        self.seconds[name] = time.monotonic() - since


def prove_here(
    scene: Any,
    plan: Plan,
    *,
    shot_file: Path,
    scene_file: Path | None,
    folder: Path,
    frames: Sequence[int] = (),
    tolerance_px: float = DEFAULT_TOLERANCE_PX,
    step: int = 2,
    pictures: bool = True,
    samples: int = 1,
    depth_of_field: bool = False,
    threads: int = 0,
    tell: Tell = lambda what, done, of: None,
) -> Proof:
    """Return the proof of ``scene`` against ``plan``; without ``frames`` they are chosen.

    ``folder`` takes the passes, each until it is measured, and the pictures, as PNG. ``tell`` hears (what, done, of)
    as work goes on. Raises ShotError for a frame that is not in the shot, PassFileError for a render that is not whole.
    """
    frames = frames_to_test(plan, asked=frames)
    clock, fits, made = _Clock(), {}, {}
    with _present(scene):
        with clock.stage("read every frame"):
            reading = _read(scene, plan, frames, tell)
        can_render = scene.camera is not None and scene.camera.type == "CAMERA"
        if can_render:
            with clock.stage("render and measure passes"):
                fits = _measured(scene, frames, folder=folder, step=step, threads=threads, tell=tell)
        if can_render and pictures:
            with clock.stage("render pictures"):
                made = _pictured(scene, frames, folder, samples=samples, depth_of_field=depth_of_field, tell=tell)
    tell("judging", 0, 0)
    with clock.stage("judge"):
        proof = judge_scene(
            plan,
            shot_file=shot_file,
            scene_file=scene_file,
            reading=reading,
            frames=frames,
            fits=fits,
            rendered={frame for frame, _ in fits},
            tolerance=tolerance_px,
            pictures=made,
            seconds=clock.seconds,
        )
    clock.seconds["all"] = time.monotonic() - clock.begun
    return proof


@contextmanager
def _present(scene: Any) -> Iterator[None]:
    """Make ``scene`` the open one, which is what is evaluated and rendered.

    No override of the context does it: a render looks into that while other Python threads run, and crashes.
    """
    if bpy.context.scene == scene:
        yield
        return
    window = bpy.context.window
    if window is None:
        raise UnderglassError(f"there is no window in which to open the scene {scene.name}; open it, and prove again")
    before = window.scene, window.view_layer
    # The scene first: of a new one Blender takes the layer whose name is that of the layer before.
    window.scene, window.view_layer = scene, scene.view_layers[0]
    try:
        yield
    finally:
        window.scene, window.view_layer = before


def _read(scene: Any, plan: Plan, frames: Sequence[int], tell: Tell) -> SceneReading:
    what, count = "reading the scene", len(plan.frames)
    tell(what, 0, count)
    reading = readback.read_scene(
        scene, plan.frames.tolist(), look_at=frames, progress=lambda row: tell(what, row, count)
    )
    tell(what, count, count)
    return replace(reading, paints=build.planned_paints(plan))


def _measured(scene: Any, frames: Sequence[int], *, folder: Path, step: int, threads: int, tell: Tell) -> Fits:
    """Return the fit of every level on every frame; a file is measured while the next one is rendered."""
    what = "rendering proof passes"
    waiting: dict[int, list[Future[dict[str, Fit | None]]]] = {}
    last: Future[dict[str, Fit | None]] | None = None
    tell(what, 0, len(frames))
    with ThreadPoolExecutor(max_workers=1) as measuring:
        for file in testframes.render_passes(
            scene, frames=frames, folder=folder, step=step, batch=LEVELS_A_RENDER, threads=threads
        ):
            if last is not None:
                # A file at a time lies on the disk beside the one that is being made.
                last.result()
            last = measuring.submit(measure_file, file.path, names=file.names, size=file.size, step=file.step)
            waiting.setdefault(file.frame, []).append(last)
            tell(what, len(waiting), len(frames))
    return {
        (frame, object_number(name)): fit
        for frame, files in waiting.items()
        for found in files
        for name, fit in found.result().items()
    }


def _pictured(
    scene: Any, frames: Sequence[int], folder: Path, *, samples: int, depth_of_field: bool, tell: Tell
) -> dict[int, Path]:
    what = "rendering pictures"
    made: dict[int, Path] = {}
    tell(what, 0, len(frames))
    for frame, exr in testframes.render_pictures(
        scene, frames=frames, folder=folder, samples=samples, depth_of_field=depth_of_field
    ):
        channels = read_pass_file(exr)
        exr.unlink()
        light = no_wider(over_black(np.stack([channels[name] for name in "RGBA"], axis=-1)), width=PICTURE_WIDTH)
        made[frame] = folder / f"{frame:04d}.png"
        made[frame].write_bytes(png(codes_from_light(light)))
        tell(what, len(made), len(frames))
    return made
