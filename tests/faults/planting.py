# SPDX-License-Identifier: GPL-3.0-or-later
"""Run inside Blender: plants each fault of a list, reads the scene back, renders where asked, and has it judged.

``planting.py LIST OUT``: LIST holds cases as JSON, OUT gets a line of JSON for each, as it comes.
"""

import json
import re
import sys
import tempfile
import time
import zlib
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import bpy
import numpy as np

import faults.all_kinds  # noqa: F401
from faults.judging import MISSED, NOT_PLANTED, Outcome, against_rule, judge, mismeasured
from faults.kinds import KINDS, TOLERANCE_PX, Draw, Told, UnfitError, stand_of
from faults.made_shots import INCH, make_shot, on_disk
from underglass.plan import Plan, corners_px, make_plan
from underglass.proof.choose_frames import choose_frames
from underglass.proof.diagnose.deviation_shapes import Shape
from underglass.proof.levels_showing import coarse_steps, fine_step, showing
from underglass.proof.measure.passes import MeasuredFrame, measure_frame
from underglass.proof.proof_facts import FAIL, Proof
from underglass.proof.verdict.whole_proof import judge_scene
from underglass.reading.scene_reading import SceneReading
from underglass.shot import CAMERA, FrameTable, Move, Shot, ShotError
from underglass.shot.files.shot_fingerprint import fingerprint
from underglass.stage import read_scene, render_frames
from underglass.stage.build_stack import build
from underglass.stage.scene_changes import with_changes
from underglass_headless.delivered.prove_delivered import DeliveredOptions, prove_delivered
from underglass_headless.exr.read_exr import read_passes
from underglass_headless.machine.freed_memory import keep_freed_memory

MOST_TRIES = 400
# A code of an axis is its name and a shape.
SHAPED = re.compile(f"-({'|'.join(Shape)})$")
DELIVERED_PX = (200, 150)
# Of the test frames so many are rendered on the fine grid.
FINE_FRAMES = 1


@dataclass(frozen=True)
class Case:
    """One case: ``kinds`` are planted in the shot of ``seed`` so that each puts it out by ``aim_px``."""

    seed: int
    kinds: tuple[str, ...]
    aim_px: tuple[float, ...]

    @property
    def recipe(self) -> str:
        """What makes this case alone again."""
        kinds = "+".join(self.kinds) or "clean"
        return f"{self.seed}:{kinds}:{'+'.join(f'{aim:.6g}' for aim in self.aim_px)}"


def run(case: Case, folder: Path) -> dict[str, Any]:
    """Return how one case ended, as plain values."""
    begun = time.monotonic()
    shot, planted = planted_in(case, folder)
    plan = make_plan(shot)
    clean = stand_of(shot)
    px = tuple(float("nan") if told.broken is None else float(told.broken.away_from(clean).max()) for told in planted)
    delivered = [told.deliver for told in planted if told.deliver is not None]
    proof = delivery_proof(plan, delivered[0], folder) if delivered else scene_proof(plan, planted, folder)
    slack = max((m.uncertainty_px or 0.0 for m in proof.measurements), default=0.0)
    outcome = judge(proof, planted, px, slack_px=slack)
    measurable = len(planted) < 2 and all(told.broken is not None and told.flat for told in planted)
    if outcome.good and not delivered and measurable:
        out_of_place = planted[0].broken.away_from(clean) if planted else np.zeros((shot.frame_count, len(plan.names)))
        outcome = mismeasured(proof, out_of_place) or outcome
    if outcome.good and not delivered:
        outcome = against_rule(proof) or outcome
    return asdict(case) | {
        "recipe": case.recipe,
        "outcome": outcome.verdict,
        "said": outcome.said,
        "px": px,
        "amounts": [told.amount for told in planted],
        "units": [told.unit for told in planted],
        "called": proof.verdict == FAIL,
        "frames": len(proof.rendered_frames),
        "told": [] if planted or delivered else told_of(proof),
        "seconds": time.monotonic() - begun,
    }


def told_of(proof: Proof) -> list[tuple[float, float, int, float, float]]:
    """Return error and uncertainty of everything that was measured, the frame's width, the share of the frame that it
    fills, and how far its farthest corner lies from the frame's centre, in frame widths.
    """
    frame_px = proof.plan.shot.camera.frame_px
    corners = corners_px(proof.plan)
    areas, _ = showing(corners, frame_px)
    reach = np.linalg.norm(corners, axis=-1).max(axis=-1) / frame_px[0]
    begin = int(proof.plan.frames[0])
    return [
        (
            m.error_px,
            m.uncertainty_px or 0.0,
            frame_px[0],
            float(areas[m.frame - begin, proof.plan.names.index(m.level)]) / (frame_px[0] * frame_px[1]),
            float(reach[m.frame - begin, proof.plan.names.index(m.level)]),
        )
        for m in proof.measurements
        if m.error_px is not None
    ]


def delivery_proof(plan: Plan, deliver: Callable[[Plan, Path], None], folder: Path) -> Proof:
    """Return the proof of frames as they were delivered."""
    frames = folder / "frames"
    deliver(plan, frames)
    options = DeliveredOptions(place=frames, pictures=False, threads=1, tolerance_px=TOLERANCE_PX)
    shot_file = folder / "shot.toml"
    return prove_delivered(shot_file, options=options, keep=lambda frame, _: Path(f"{frame}"), tell=lambda *_: None)


def scene_proof(plan: Plan, planted: tuple[Told, ...], folder: Path) -> Proof:
    """Return the proof of the scene with its faults."""
    reading, frames, measured = filmed(plan, planted, folder=folder)
    return judge_scene(
        plan,
        shot_file=folder / "shot.toml",
        scene_file=None,
        reading=reading,
        frames=frames,
        measured=measured,
        tolerance=TOLERANCE_PX,
        pictures={},
        picture_reasons={},
        seconds={},
    )


def planted_in(case: Case, folder: Path) -> tuple[Shot, tuple[Told, ...]]:
    """Return the first shot of the case's seed that takes its faults, as it was written and read, and the faults."""
    mark = zlib.crc32("+".join(case.kinds).encode())
    kinds = [KINDS[name] for name in case.kinds]
    least = max((kind.levels[0] for kind in kinds), default=1)
    most = min((kind.levels[1] for kind in kinds), default=12)
    projection = next((kind.projection for kind in kinds if kind.projection), None)
    for attempt in range(MOST_TRIES):
        rng = np.random.default_rng((case.seed, mark, attempt))
        size: dict[str, Any] = {"levels": (least, most)}
        if any(kind.of_frames for kind in kinds):
            size = {"frame_px": DELIVERED_PX, "levels": (max(least, 2), 5), "frames": (8, 12)}
        shot = make_shot(rng, projection=projection, **size)
        if any(kind.of_frames for kind in kinds):
            shot = panned(shot)
        try:
            shot = on_disk(shot, folder)
            stand = stand_of(shot)
            planted = tuple(
                kind.plant(Draw(shot, stand, rng, aim)) for kind, aim in zip(kinds, case.aim_px, strict=True)
            )
            if not _apart(planted):
                continue
            for told in planted:
                if told.shot is not None:
                    make_plan(told.shot)
        except (UnfitError, ShotError):
            continue
        return shot, planted
    raise UnfitError(f"no shot takes {case.recipe}")


def panned(shot: Shot) -> Shot:
    """Return the shot with a steady pan of the camera all through it, so that no two of its frames are alike."""
    pan = Move(CAMERA, "east", *shot.frames, shot.camera.east, shot.camera.east + 0.4 * INCH)
    moves = [] if isinstance(shot.schedule, FrameTable) else shot.schedule
    others = [move for move in moves if (move.part, move.axis) != (CAMERA, "east")]
    return replace(shot, schedule=(*others, pan), schedule_file="schedule.csv")


def _apart(planted: tuple[Told, ...]) -> bool:
    """Return whether the faults leave one another as they are: of one level there is only one, of a setting too."""
    if len(planted) < 2:
        return True
    subjects = [{name.subject for name in told.names} for told in planted]
    axes = [{(name.subject, SHAPED.sub("", code)) for name in told.names for code in name.codes} for told in planted]
    built = [told.shot is not None for told in planted]
    return not (subjects[0] & subjects[1] - {CAMERA, "scene"} or axes[0] & axes[1] or all(built))


def filmed(
    plan: Plan, planted: tuple[Told, ...], *, folder: Path
) -> tuple[SceneReading, tuple[int, ...], dict[int, MeasuredFrame]]:
    """Return what is read of the scene with its faults, the test frames, and what the pixels of every frame say."""
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    scene = bpy.context.scene
    built = next((make_plan(told.shot) for told in planted if told.shot is not None), plan)
    build(built, scene, fingerprint=fingerprint(plan.shot))
    # What takes the camera or a level away comes last: until then there is something to break.
    for told in sorted(planted, key=lambda told: any({"missing", "no-camera"} & {*name.codes} for name in told.names)):
        if told.hand is not None:
            told.hand(scene)
    chosen = choose_frames(plan)
    reading = read_scene.read_scene(scene, plan.frames, look_at=list(chosen))
    reading = with_changes(scene, plan, reading, looks=list(chosen))
    if scene.camera is None or scene.camera.type != "CAMERA":
        return reading, chosen, {}
    steps = dict(zip(plan.frames.tolist(), coarse_steps(plan).tolist(), strict=True))
    fine = chosen[:: max(1, len(chosen) // FINE_FRAMES)][:FINE_FRAMES]
    steps |= dict.fromkeys(fine, fine_step(plan.shot.camera.frame_px))
    with render_frames.pass_renderer(scene, threads=1) as render:
        measured = {
            frame: measure_frame(list(render(frame, step, folder)), read=read_passes) for frame, step in steps.items()
        }
    return reading, chosen, measured


def main(cases: Path, out: Path) -> int:
    """Run every case of the list; a case that breaks down is told of as missed."""
    keep_freed_memory()
    with tempfile.TemporaryDirectory() as place, out.open("w", encoding="utf-8") as lines:
        for entry in json.loads(cases.read_text(encoding="utf-8")):
            case = Case(**{key: tuple(value) if isinstance(value, list) else value for key, value in entry.items()})
            try:
                result = run(case, Path(place) / "shot")
            except UnfitError as error:
                result = asdict(case) | {"recipe": case.recipe, "outcome": NOT_PLANTED, "said": str(error)}
            except Exception as error:
                broke = Outcome(MISSED, f"broke down: {error!r}")
                result = asdict(case) | {"recipe": case.recipe, "outcome": broke.verdict, "said": broke.said}
            lines.write(json.dumps(result) + "\n")
            lines.flush()
    return 0


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
    answer(True)  # type: ignore[name-defined]  # noqa: F821
