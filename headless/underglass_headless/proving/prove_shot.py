# SPDX-License-Identifier: GPL-3.0-or-later
"""Proving: from a shot file to a proof, with Blender doing the rendering in processes of their own.

The order of the work: plan, choose test frames, do the units that no earlier run has left, judge what all of them say.
"""

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from underglass.plan import Plan, make_plan
from underglass.proof.choose_frames import frames_to_picture, frames_to_test
from underglass.proof.levels_showing import fine_step
from underglass.proof.measure.passes import MeasuredFrame
from underglass.proof.proof_facts import Proof
from underglass.proof.tolerance import DEFAULT_TOLERANCE_PX
from underglass.proof.verdict.whole_proof import judge_scene
from underglass.reading.scene_reading import SceneReading
from underglass.shot import Place, ShotError, UnderglassError
from underglass.shot.files import read_shot

from ..blender.blender_process import BlenderError, require_blend
from ..engines import process_pool
from ..machine.cores_and_memory import peak_mb
from ..telling.progress import Tell
from ..work.proof_job import make_job
from ..work.unit_results import UnitResult
from ..work.units_of_work import PASSES, PICTURE, READ, SWEEP, Job, Unit, share_of, units_of
from ..work.work_folder import Store

# Hears of a unit of work that is whole, and whether an earlier run has done it.
UnitTold = Callable[[Unit, bool], None]
_TOLD = {
    READ: "reading the scene",
    SWEEP: "measuring every frame",
    PASSES: "measuring test frames",
    PICTURE: "rendering pictures",
}
_STAGES = {
    READ: "read every frame",
    SWEEP: "measure every frame",
    PASSES: "measure test frames",
    PICTURE: "render pictures",
}
# A picture for a page or a screen: as wide as a page shows it.
PAGE_WIDTH = 640


@dataclass(frozen=True)
class Options:
    """How to prove. ``frames`` empty means: choose them. ``step`` is the grid of the test frames' passes, in pixels, 0
    for one that suits the frame; ``picture_width`` px across, 0 for all of the frame's.

    ``jobs`` processes of this machine share the work, or those of the Dask cluster at the address ``cluster``. Where a
    ``job_key`` is given, work of another one is refused. Where ``keep`` is given, the work folder holds so many bytes
    at the most, and results of other states stay in it as long as there is room; without it they go.
    """

    frames: tuple[int, ...] = ()
    tolerance_px: float = DEFAULT_TOLERANCE_PX
    scene: Path | None = None
    pictures: bool = True
    picture_samples: int = 1
    depth_of_field: bool = False
    picture_width: int = PAGE_WIDTH
    step: int = 0
    threads: int = 0
    jobs: int = 1
    cluster: str = ""
    job_key: str = ""
    keep: int = 0


@dataclass
class _Clock:
    """What the work took: how long each stage, s, by the time since the stage before it, and how much memory."""

    begun: float = field(default_factory=time.monotonic)
    seconds: dict[str, float] = field(default_factory=dict)
    # The most memory of each process that held Blender, MB; processes that take turns have one number.
    peaks_mb: dict[int, float] = field(default_factory=dict)
    since: float = field(default_factory=time.monotonic)

    def lap(self, stage: str) -> None:
        now = time.monotonic()
        self.seconds[stage], self.since = self.seconds.get(stage, 0.0) + now - self.since, now


def prove(
    shot_file: Path, *, options: Options, folder: Path, tell: Tell, unit_told: UnitTold = lambda unit, kept: None
) -> Proof:
    """Return the proof of the shot in ``shot_file``.

    ``folder`` is the work folder: what units an earlier run left there whole is not done again. The pictures that the
    proof names lie in it. ``tell`` hears (what, done, of) as work goes on, ``unit_told`` of each unit that is whole.
    Raises ShotError, BlenderError, ResultError.
    """
    clock = _Clock()
    plan, frames, job, units = _laid_out(shot_file, options)
    store = Store(folder, job)
    clock.lap("plan")
    with store.open() as making:
        results, kept = _done(
            job, units, store=store, making=making, options=options, clock=clock, tell=tell, unit_told=unit_told
        )
        reasons = frames_to_picture(plan, asked=options.frames) if options.pictures else {}
        proof = judge(
            plan,
            job=job,
            frames=frames,
            results=results,
            store=store,
            tolerance_px=options.tolerance_px,
            picture_reasons=reasons,
        )
        if options.keep:
            store.keep_within(options.keep)
        else:
            store.sweep_others()
    clock.lap("judge")
    proof.seconds.update(clock.seconds)
    proof.seconds["all"] = time.monotonic() - clock.begun
    memory = peak_mb() + sum(clock.peaks_mb.values())
    return replace(proof, peak_memory_mb=memory, units=(len(units) - kept, kept))


def do_units_of(
    shot_file: Path,
    *,
    options: Options,
    share: Sequence[int],
    folder: Path,
    tell: Tell,
    unit_told: UnitTold = lambda unit, kept: None,
) -> tuple[int, int]:
    """Do what a proof on ``options.frames`` has to do on the test frames of ``share``; return how many units were done
    and how many were whole already.

    A test frame brings the frames after it with it, up to the next one, and the first also the frames before it and the
    reading of the scene. Raises as `prove` does, ShotError for a frame of ``share`` that is no test frame.
    """
    plan, frames, job, units = _laid_out(shot_file, options)
    frames_to_test(plan, asked=share, where="--share")
    if strange := sorted(set(share) - set(frames)):
        raise ShotError(Place(Path("--share")), f"frame {strange[0]} is no test frame", f"choose from {list(frames)}")
    mine = [unit for unit in units if share_of(unit, frames) in share]
    store = Store(folder, job)
    with store.open() as making:
        _results, kept = _done(
            job, mine, store=store, making=making, options=options, clock=_Clock(), tell=tell, unit_told=unit_told
        )
        if options.keep:
            store.keep_within(options.keep)
    return len(mine) - kept, kept


def _laid_out(shot_file: Path, options: Options) -> tuple[Plan, tuple[int, ...], Job, tuple[Unit, ...]]:
    """Return the plan of a proof, its test frames, its job and all that is to be done."""
    if options.scene is not None:
        require_blend(options.scene)
    plan = make_plan(read_shot(shot_file))
    frames = frames_to_test(plan, asked=options.frames)
    width = plan.shot.camera.frame_px[0]
    units = units_of(
        frames,
        span=plan.shot.frames,
        step=options.step or fine_step(plan.shot.camera.frame_px),
        pictures=frames_to_picture(plan, asked=options.frames) if options.pictures else (),
        samples=options.picture_samples,
        depth_of_field=options.depth_of_field,
        width=options.picture_width if options.picture_width < width else 0,
    )
    job = make_job(plan, shot_file=shot_file, scene=options.scene, threads=options.threads)
    if options.job_key not in {"", job.key}:
        raise UnderglassError(
            f"{shot_file}: this is not the work of the job: the shot's files, its art or a version"
            f" ({', '.join(' '.join(pair) for pair in job.makers)}) has changed; make the job again: underglass farm"
        )
    return plan, frames, job, units


def judge(
    plan: Plan,
    *,
    job: Job,
    frames: tuple[int, ...],
    results: Mapping[Unit, UnitResult],
    store: Store,
    tolerance_px: float,
    picture_reasons: dict[int, str],
) -> Proof:
    """Return the proof that the ``results`` of every unit make, whoever did them.

    Its pictures lie in ``store``, as PNG with the scene-linear EXR beside each.
    """
    reading, pictures = None, {}
    measured: dict[int, MeasuredFrame] = {}
    for unit, result in results.items():
        if unit.kind == READ:
            reading = reading_in(store.folder / next(iter(result.files)))
        elif result.rendered and unit.kind in {SWEEP, PASSES}:
            measured |= result.measured
        elif result.rendered:
            pictures[unit.frame] = store.folder / next(name for name in result.files if name.endswith(".png"))
    assert reading is not None, "the scene is read by one of the units"
    return judge_scene(
        plan,
        shot_file=job.shot,
        scene_file=job.scene,
        reading=reading,
        frames=frames,
        measured=measured,
        tolerance=tolerance_px,
        pictures=dict(sorted(pictures.items())),
        picture_reasons=picture_reasons,
        seconds={},
    )


def reading_in(path: Path) -> SceneReading:
    """Return the reading in a file; BlenderError for one that is none, whoever sent it."""
    try:
        return SceneReading.load(path)
    except (OSError, ValueError) as error:
        reason = " ".join(str(error).split())[:120]
        raise BlenderError(f"{path}: is no reading of a scene ({reason}); remove it and run again") from None


def _done(
    job: Job,
    units: Sequence[Unit],
    *,
    store: Store,
    making: Path,
    options: Options,
    clock: _Clock,
    tell: Tell,
    unit_told: UnitTold,
) -> tuple[dict[Unit, UnitResult], int]:
    """Return the result of every unit, in their order, and how many were there whole; the rest is done now."""
    results = store.whole(units)
    kept = len(results)
    missing = [unit for unit in units if unit not in results]
    if results:
        tell("kept from an earlier run", kept, len(units))
    for unit in results:
        unit_told(unit, True)
    if missing:
        hear = _hearing(job, missing, clock, tell, unit_told)
        if options.cluster:
            from ..engines.dask_cluster import do_units

            results |= do_units(job, missing, store=store, address=options.cluster, hear=hear)
        else:
            results |= process_pool.do_units(job, missing, store=store, making=making, jobs=options.jobs, hear=hear)
    return {unit: results[unit] for unit in units}, kept


def _hearing(job: Job, missing: Sequence[Unit], clock: _Clock, tell: Tell, unit_told: UnitTold) -> process_pool.Hear:
    """Return what hears the events of an engine, tells how far the work is and takes the time of its stages."""
    wanted = {kind: sum(len(unit.frames) for unit in missing if unit.kind == kind) for kind in _TOLD}
    done = dict.fromkeys(_TOLD, 0)
    first, last = job.span

    def hear(event: dict[str, Any]) -> None:
        match event["event"]:
            case "opened" if "start and build" not in clock.seconds:
                clock.lap("start and build")
            case "read":
                tell(_TOLD[READ], event["done"], last - first + 1)
            case "unit":
                unit = Unit.from_words(event["unit"])
                kind = unit.kind
                done[kind] += len(unit.frames)
                clock.lap(_STAGES[kind])
                # Of a process on another machine nothing is known.
                process, peak = event.get("process", 0), event.get("peak_mb", 0.0)
                clock.peaks_mb[process] = max(clock.peaks_mb.get(process, 0.0), peak)
                if kind == READ:
                    tell(_TOLD[READ], last - first + 1, last - first + 1)
                else:
                    tell(_TOLD[kind], done[kind], wanted[kind])
                unit_told(unit, False)

    return hear
