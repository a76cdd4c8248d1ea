# SPDX-License-Identifier: GPL-3.0-or-later
"""One run of ``farm``: lay out a proof, describe it as a job, write the template and say how it is run."""

import shlex
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from underglass.plan import Plan, make_plan
from underglass.proof.choose_frames import frames_to_test
from underglass.proof.wording import counted
from underglass.shot.files import read_shot
from underglass.shot.files.read import shot_file_of

from ..blender.blender_process import require_blend
from ..results import write_text
from ..work.proof_job import make_job
from .openjd_delivered import delivered_template
from .openjd_parts import template_text
from .openjd_proof import job_template
from .task_needs import Measures

TEMPLATE = "template.json"


def describe_job(shot: Path, *, folder: Path, choices: dict[str, Any], echo: Callable[[str], None]) -> None:
    """Write the job template of a proof of ``shot`` into ``folder``; raises ShotError, TemplateError, ResultError."""
    shot_file = shot_file_of(shot)
    plan = make_plan(read_shot(shot_file))
    scene = choices["render"] or choices["scene"]
    if scene is not None:
        require_blend(scene)
    describe = _own if choices["render"] is None else _delivered
    template, told = describe(plan, shot_file=shot_file, folder=folder, choices=choices)
    place = folder / TEMPLATE
    write_text(place, template_text(template))
    echo(f"wrote {place}: {told}")
    inputs = {"Shot": shot_file.parent, "Scene": scene}
    needed = [
        f"{one['name']}={path.resolve()}"
        for one in template["parameterDefinitions"]
        if "default" not in one and (path := inputs[one["name"]]) is not None
    ]
    if underglass := _own_command():
        needed.append(f"Underglass={underglass}")
    command = ["openjd", "run", str(place.resolve()), *(word for value in needed for word in ("-p", value))]
    echo(f"try it here: {shlex.join(command)} --step Judge --run-dependencies")


def _own(plan: Plan, *, shot_file: Path, folder: Path, choices: dict[str, Any]) -> tuple[dict[str, Any], str]:
    """Return the template of a proof that renders its own passes, and what it does in words."""
    scene, chunk = choices["scene"], choices["chunk"]
    frames = frames_to_test(plan, asked=choices["frames"])
    template = job_template(
        title=plan.shot.title,
        shot=shot_file,
        folder=folder,
        frames=frames,
        measures=_measures(plan),
        scene=scene,
        tolerance_px=choices["tolerance"],
        pictures=choices["pictures"],
        samples=choices["samples"],
        depth_of_field=choices["depth_of_field"],
        every_pixel=choices["every_pixel"],
        full_size=choices["full_size"],
        chunk=chunk,
        key=make_job(plan, shot_file=shot_file, scene=scene).key,
    )
    return template, f"{len(frames)} test frames, {chunk} a task; then a judge"


def _delivered(plan: Plan, *, shot_file: Path, folder: Path, choices: dict[str, Any]) -> tuple[dict[str, Any], str]:
    """Return the template of a job that renders a .blend and judges the frames, and what it does in words."""
    asked, chunk = choices["frames"], choices["chunk"]
    frames = frames_to_test(plan, asked=asked) if asked else tuple(plan.frames.tolist())
    template = delivered_template(
        title=plan.shot.title,
        shot=shot_file,
        folder=folder,
        scene=choices["render"],
        frames=frames,
        measures=_measures(plan),
        whole=not asked,
        tolerance_px=choices["tolerance"],
        pictures=choices["pictures"],
        chunk=chunk,
    )
    parts = len(template["steps"]) // 2
    return (
        template,
        f"{counted(len(frames), 'frame')}, {chunk} a task, checked in {counted(parts, 'part')}; then a judge",
    )


def _measures(plan: Plan) -> Measures:
    art_px = sum(level.art_px[0] * level.art_px[1] for level in plan.shot.levels)
    drawings = sum(len(plan.shot.drawings.of(one.name)) if one.has_drawings else 1 for one in plan.shot.levels)
    return Measures(plan.shot.camera.frame_px, len(plan.names), art_px, drawings)


def _own_command() -> str:
    """Return the place of the command, which a runner may not find by its name; empty where it is not installed."""
    beside = Path(sys.executable).parent
    found = shutil.which("underglass") or shutil.which("underglass", path=str(beside))
    return str(Path(found).absolute()) if found else ""
