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

import numpy as np

from underglass.optics.projection import pixel_centres
from underglass.plan import Plan, corners_px, make_plan
from underglass.plan.expectations import unmet_expectations
from underglass.plan.reading import SceneReading
from underglass.shot import Place, ShotError, read_shot

from .audit import audit
from .blender_process import BlenderError, run_worker
from .diagnose import diagnose
from .exr import read_passes
from .facts import FAIL, PASS, STOP, Fault, Measurement, Proof
from .fingerprint import fingerprint
from .frames import choose_frames
from .judge import judge_level, scene_error_px, unexplained
from .measure import Fit, fit_level

DEFAULT_TOLERANCE_PX = 0.05
# Passes of this many levels are rendered together; each is a whole frame of floats in memory.
LEVELS_A_RENDER = 8

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


def prove(shot_file: Path, *, options: Options, folder: Path, tell: Tell) -> Proof:
    """Return the proof of the shot in ``shot_file``.

    ``folder`` takes what Blender makes: scene.npz, passes (removed once measured) and pictures, named in the proof.
    ``tell`` hears (what, done, of) as work goes on. Raises ShotError, BlenderError.
    """
    begun = time.monotonic()
    shot = read_shot(shot_file)
    plan = make_plan(shot)
    frames = _test_frames(plan, options.frames)
    harvest = _Harvest(seconds={"plan": time.monotonic() - begun})
    job = _job(plan, shot_file, frames, options, folder)
    with ThreadPoolExecutor(max_workers=1) as measuring, closing(run_worker(job, folder=folder)) as events:
        for event in events:
            _take(event, harvest, folder=folder, measuring=measuring, begun=begun)
            _report(event, harvest, plan, frames, tell)
    if harvest.reading is None:
        raise BlenderError("Blender ended before it had read the scene; run it again")
    proof = _judge(plan, shot_file, options, harvest, frames)
    harvest.seconds["all"] = time.monotonic() - begun
    return proof


def _test_frames(plan: Plan, asked: tuple[int, ...]) -> tuple[int, ...]:
    first, last = int(plan.frames[0]), int(plan.frames[-1])
    for frame in asked:
        if not first <= frame <= last:
            place = Place(Path("--frames"))
            raise ShotError(place, f"frame {frame} is not in the shot", f"choose from {first} to {last}")
    return tuple(sorted(set(asked))) or choose_frames(plan)


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


def _take(
    event: dict[str, Any], harvest: _Harvest, *, folder: Path, measuring: ThreadPoolExecutor, begun: float
) -> None:
    match event["event"]:
        case "opened":
            harvest.blender = event["blender"]
            harvest.seconds["start and build"] = time.monotonic() - begun
        case "reading":
            harvest.reading = SceneReading.load(folder / event["file"])
            harvest.seconds["read every frame"] = time.monotonic() - begun
        case "pass":
            harvest.rendered.add(event["frame"])
            loaded: Future[dict[str, Fit | None]] = measuring.submit(_measure_file, folder, event)
            for name in event["names"]:
                number = int(name.removeprefix("level"))
                harvest.fits[event["frame"], number] = measuring.submit(lambda f=loaded, n=name: f.result()[n])  # type: ignore[misc]
        case "passes-done":
            harvest.seconds["render passes"] = time.monotonic() - begun
        case "picture":
            harvest.pictures[event["frame"]] = folder / event["file"]


def _measure_file(folder: Path, event: dict[str, Any]) -> dict[str, Fit | None]:
    """Measure every level in one file of passes, then let go of the file: a proof's disk stays flat."""
    path = folder / event["file"]
    columns_x, rows_y = pixel_centres(tuple(event["size"]), step=event["step"])
    passes = read_passes(path, event["names"])
    path.unlink()
    return {
        name: fit_level(u, v=v, hit=hit, columns_x=columns_x, rows_y=rows_y, spacing=event["step"])
        for name, (u, v, hit) in passes.items()
    }


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


def _judge(plan: Plan, shot_file: Path, options: Options, harvest: _Harvest, frames: tuple[int, ...]) -> Proof:
    reading = harvest.reading
    assert reading is not None
    tolerance = options.tolerance_px
    scene_error = scene_error_px(plan, reading=reading)
    measurements = _measurements(plan, reading, harvest, frames, tolerance)
    worst = {name: float(scene_error[:, column].max(initial=0.0)) for column, name in enumerate(plan.names)}
    faults = [
        *diagnose(plan, reading=reading, scene_error=scene_error, tolerance=tolerance),
        *audit(plan, reading=reading, level_error_px=worst, tolerance=tolerance),
        *_unmet(plan, tolerance),
        *unexplained(measurements, scene_error=scene_error, plan=plan, tolerance=tolerance),
    ]
    faults.sort(key=lambda fault: fault.severity != STOP)
    wrong = (
        any(fault.severity == STOP for fault in faults)
        or any(m.verdict == FAIL for m in measurements)
        or not bool((scene_error <= tolerance).all())
    )
    return Proof(
        plan=plan,
        shot_file=shot_file,
        scene_file=options.scene,
        blender=reading.blender,
        engine="CYCLES",
        tolerance_px=tolerance,
        verdict=FAIL if wrong else PASS,
        checked_frames=tuple(int(frame) for frame in reading.frames),
        rendered_frames=tuple(sorted(harvest.rendered)),
        measurements=measurements,
        faults=_or_unexplained(tuple(faults), wrong, scene_error, plan),
        scene_error_px=scene_error,
        pictures=harvest.pictures,
        seconds=harvest.seconds,
    )


def _unmet(plan: Plan, tolerance: float) -> list[Fault]:
    """Return what the picture was expected to do and, going by the schedule, does not."""
    unmet = unmet_expectations(plan, hold_px=tolerance)
    return [
        Fault("expectation", STOP, u.level, u.kind, u.frames, u.value, u.unit, float("nan"), u.message) for u in unmet
    ]


def _or_unexplained(faults: tuple[Fault, ...], wrong: bool, scene_error: Any, plan: Plan) -> tuple[Fault, ...]:
    """Return the faults, and where something is wrong that none of them names, one that says at least where."""
    if not wrong or any(fault.severity == STOP for fault in faults):
        return faults
    row, column = divmod(int(np.nan_to_num(scene_error, nan=np.inf).argmax()), scene_error.shape[1])
    frame, name = int(plan.frames[row]), plan.names[column]
    text = f"{name} is {scene_error[row, column]:.3f} px out of place on frame {frame}, by several small deviations"
    error = float(scene_error[row, column])
    return (Fault("out-of-place", STOP, name, "", (frame, frame), error, "px", error, text), *faults)


def _measurements(
    plan: Plan, reading: SceneReading, harvest: _Harvest, frames: tuple[int, ...], tolerance: float
) -> tuple[Measurement, ...]:
    corners = corners_px(plan)
    found = {level.level: number for number, level in reversed(list(enumerate(reading.levels)))}
    results = []
    for frame in frames:
        for name in plan.names:
            number = found.get(name)
            remark = "it is not in the scene" if number is None else ""
            future = None if number is None else harvest.fits.get((frame, number))
            fit = None if future is None else future.result()
            results.append(
                judge_level(plan, corners=corners, frame=frame, level=name, fit=fit, tolerance=tolerance, remark=remark)
            )
    return tuple(results)
