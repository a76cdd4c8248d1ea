"""Proving: from a shot file to a proof, with Blender doing the rendering in a process of its own.

The order of the work: plan, choose test frames, have the scene read and rendered, measure while it renders, judge.
"""

import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from underglass.plan import Plan, make_plan
from underglass.plan.reading import SceneReading
from underglass.proof.facts import Proof
from underglass.proof.fingerprint import fingerprint
from underglass.proof.frames import frames_to_test
from underglass.proof.measure import Fit
from underglass.proof.passes import LEVELS_A_RENDER, measure_file, object_number
from underglass.proof.verdict import DEFAULT_TOLERANCE_PX, judge_scene
from underglass.shot import read_shot

from .blender_process import BlenderError, run_worker
from .exr import read_passes

Tell = Callable[[str, int, int], None]


@dataclass(frozen=True)
class Options:
    """How to prove. ``frames`` empty means: choose them. ``step`` is the grid of the proof passes, in pixels."""

    frames: tuple[int, ...] = ()
    tolerance_px: float = DEFAULT_TOLERANCE_PX
    scene: Path | None = None
    pictures: bool = True
    picture_samples: int = 2
    depth_of_field: bool = False
    step: int = 2
    threads: int = 0


@dataclass
class _Harvest:
    """What comes in while the worker runs."""

    blender: str = ""
    reading: SceneReading | None = None
    fits: dict[tuple[int, int], Future[Fit | None]] = field(default_factory=dict)
    rendered: set[int] = field(default_factory=set)
    pictures: dict[int, Path] = field(default_factory=dict)
    seconds: dict[str, float] = field(default_factory=dict)
    since: float = field(default_factory=time.monotonic)

    def lap(self, stage: str) -> None:
        """Set down under ``stage`` the time since the stage before it."""
        now = time.monotonic()
        self.seconds[stage], self.since = now - self.since, now


def prove(shot_file: Path, *, options: Options, folder: Path, tell: Tell) -> Proof:
    """Return the proof of the shot in ``shot_file``.

    ``folder`` takes what Blender makes: scene.npz, passes (removed once measured) and pictures, named in the proof.
    ``tell`` hears (what, done, of) as work goes on. Raises ShotError, BlenderError.
    """
    begun = time.monotonic()
    harvest = _Harvest()
    plan = make_plan(read_shot(shot_file))
    frames = frames_to_test(plan, asked=options.frames)
    harvest.lap("plan")
    job = _job(plan, shot_file, frames, options, folder)
    with ThreadPoolExecutor(max_workers=1) as measuring, closing(run_worker(job, folder=folder)) as events:
        for event in events:
            _take(event, harvest, folder=folder, measuring=measuring)
            _report(event, harvest, plan, frames, tell)
    if harvest.reading is None:
        raise BlenderError("Blender ended before it had read the scene; run it again")
    fits = {place: future.result() for place, future in harvest.fits.items()}
    proof = judge_scene(
        plan,
        shot_file=shot_file,
        scene_file=options.scene,
        reading=harvest.reading,
        frames=frames,
        fits=fits,
        rendered=harvest.rendered,
        tolerance=options.tolerance_px,
        pictures=harvest.pictures,
        seconds=harvest.seconds,
    )
    harvest.lap("measure and judge")
    harvest.seconds["all"] = time.monotonic() - begun
    return proof


def _job(plan: Plan, shot_file: Path, frames: tuple[int, ...], options: Options, folder: Path) -> dict[str, Any]:
    return {
        "task": "prove",
        "shot": str(shot_file.resolve()),
        "scene": str(options.scene.resolve()) if options.scene else "",
        "fingerprint": fingerprint(plan.shot),
        "frames": [int(plan.frames[0]), int(plan.frames[-1])],
        "test_frames": list(frames),
        "folder": str(folder.resolve()),
        "step": options.step,
        "batch": LEVELS_A_RENDER,
        "threads": options.threads,
        "pictures": options.pictures,
        "samples": options.picture_samples,
        "depth_of_field": options.depth_of_field,
    }


def _take(event: dict[str, Any], harvest: _Harvest, *, folder: Path, measuring: ThreadPoolExecutor) -> None:
    match event["event"]:
        case "opened":
            harvest.blender = event["blender"]
            harvest.lap("start and build")
        case "reading":
            harvest.reading = SceneReading.load(folder / event["file"])
            harvest.lap("read every frame")
        case "pass":
            harvest.rendered.add(event["frame"])
            loaded: Future[dict[str, Fit | None]] = measuring.submit(
                measure_file,
                folder / event["file"],
                names=event["names"],
                size=tuple(event["size"]),
                step=event["step"],
                read=read_passes,
            )
            for name in event["names"]:
                number = object_number(name)
                harvest.fits[event["frame"], number] = measuring.submit(lambda f=loaded, n=name: f.result()[n])  # type: ignore[misc]
        case "passes-done":
            harvest.lap("render passes")
        case "picture":
            harvest.pictures[event["frame"]] = folder / event["file"]
        case "pictures-done":
            harvest.lap("render pictures")


def _report(event: dict[str, Any], harvest: _Harvest, plan: Plan, frames: tuple[int, ...], tell: Tell) -> None:
    match event["event"]:
        case "read":
            tell("reading the scene", event["done"], len(plan.frames))
        case "reading":
            tell("reading the scene", len(plan.frames), len(plan.frames))
        case "pass":
            tell("rendering proof passes", len(harvest.rendered), len(frames))
        case "picture":
            tell("rendering pictures", len(harvest.pictures), len(frames))
