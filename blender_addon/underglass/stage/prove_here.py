# SPDX-License-Identifier: GPL-3.0-or-later
"""Proving where one is: a scene is read, rendered and measured against a plan in this very process of Blender.

Settings of the scene are changed and not put back: it is for a copy that nobody works on.
"""

import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import bpy
import numpy as np

from ..image.pass_file import read_pass_file
from ..image.picture_png import codes_from_light, no_wider, over_black, png
from ..plan.plan_arrays import Plan
from ..proof.choose_frames import frames_to_picture, frames_to_test
from ..proof.levels_showing import coarse_steps, fine_step
from ..proof.measure.passes import MeasuredFrame, measure_frame
from ..proof.proof_facts import Proof
from ..proof.tolerance import DEFAULT_TOLERANCE_PX
from ..proof.verdict.whole_proof import judge_scene
from ..reading.scene_reading import SceneReading
from ..shot import UnderglassError
from . import camera_cuts, read_scene, render_frames
from .scene_changes import with_changes

# A picture for a window is as wide as a window shows it.
PICTURE_WIDTH = 960

Tell = Callable[[str, int, int], None]


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
    step: int = 0,
    pictures: bool = True,
    samples: int = 1,
    depth_of_field: bool = False,
    threads: int = 0,
    tell: Tell = lambda what, done, of: None,
) -> Proof:
    """Return the proof of ``scene`` against ``plan``; without test ``frames`` they are chosen.

    ``step`` is the grid of the test frames, px; 0 for one that suits the frame. Every other frame has a coarse one.
    ``folder`` takes the passes, each until it is measured, and the pictures, as PNG. ``tell`` hears (what, done, of)
    as work goes on. Raises ShotError for a frame that is not in the shot, PassFileError for a render that is not whole.
    """
    looks = frames_to_picture(plan, asked=frames) if pictures else {}
    frames = frames_to_test(plan, asked=frames)
    clock, made = _Clock(), {}
    measured: dict[int, MeasuredFrame] = {}
    with _present(scene):
        with clock.stage("read every frame"):
            reading = _read(scene, plan, frames, tell)
        camera = camera_cuts.shot_camera(scene)
        can_render = camera is not None and camera.type == "CAMERA"
        if can_render:
            steps = dict(zip(plan.frames.tolist(), coarse_steps(plan).tolist(), strict=True))
            fine = step or fine_step(plan.shot.camera.frame_px)
            steps |= {frame: min(fine, steps[frame]) for frame in frames}
            with clock.stage("measure every frame"):
                measured = _measured(scene, steps, folder=folder, threads=threads, tell=tell)
        if can_render and looks:
            with clock.stage("render pictures"):
                made = _pictured(scene, list(looks), folder, samples=samples, depth_of_field=depth_of_field, tell=tell)
    tell("judging", 0, 0)
    with clock.stage("judge"):
        proof = judge_scene(
            plan,
            shot_file=shot_file,
            scene_file=scene_file,
            reading=reading,
            frames=frames,
            measured=measured,
            tolerance=tolerance_px,
            pictures=made,
            picture_reasons=looks,
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
    reading = read_scene.read_scene(
        scene, plan.frames.tolist(), look_at=frames, progress=lambda row: tell(what, row, count)
    )
    tell(what, count, count)
    return with_changes(scene, plan, reading, looks=frames)


def _measured(scene: Any, steps: dict[int, int], *, folder: Path, threads: int, tell: Tell) -> dict[int, MeasuredFrame]:
    """Return what the pixels of every frame in ``steps`` say, whose grid it names, px.

    A frame is measured while the next one is rendered.
    """
    what = "measuring every frame"
    waiting: dict[int, Future[MeasuredFrame]] = {}
    tell(what, 0, len(steps))
    with ThreadPoolExecutor(max_workers=1) as measuring, render_frames.pass_renderer(scene, threads=threads) as render:
        for frame, step in steps.items():
            files = list(render(frame, step, folder))
            if waiting:
                # The files of one frame at a time lie on the disk beside those that are being made.
                next(reversed(waiting.values())).result()
            waiting[frame] = measuring.submit(measure_frame, files)
            tell(what, len(waiting), len(steps))
    return {frame: one.result() for frame, one in waiting.items()}


def _pictured(
    scene: Any, frames: Sequence[int], folder: Path, *, samples: int, depth_of_field: bool, tell: Tell
) -> dict[int, Path]:
    what = "rendering pictures"
    made: dict[int, Path] = {}
    tell(what, 0, len(frames))
    for frame, exr in render_frames.render_pictures(
        scene, frames=frames, folder=folder, samples=samples, depth_of_field=depth_of_field, width=PICTURE_WIDTH
    ):
        channels = read_pass_file(exr)
        exr.unlink()
        light = no_wider(over_black(np.stack([channels[name] for name in "RGBA"], axis=-1)), width=PICTURE_WIDTH)
        made[frame] = folder / f"{frame:04d}.png"
        made[frame].write_bytes(png(codes_from_light(light)))
        tell(what, len(made), len(frames))
    return made
