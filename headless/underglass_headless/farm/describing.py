"""One run of ``farm``: lay out a proof, describe it as a job, write the template and say how it is run."""

import shlex
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from underglass.plan import make_plan
from underglass.proof.frames import frames_to_test
from underglass.shot import read_shot
from underglass.shot.read import shot_file_of

from ..proof.blender_process import require_blend
from ..results import write_text
from .making_jobs import make_job
from .openjd import job_template, template_text

TEMPLATE = "template.json"


def describe_job(shot: Path, *, folder: Path, choices: dict[str, Any], echo: Callable[[str], None]) -> None:
    """Write the job template of a proof of ``shot`` into ``folder``; raises ShotError, TemplateError, ResultError."""
    shot_file = shot_file_of(shot)
    plan = make_plan(read_shot(shot_file))
    scene = choices["scene"]
    if scene is not None:
        require_blend(scene)
    frames = frames_to_test(plan, asked=choices["frames"])
    template = job_template(
        title=plan.shot.title,
        shot=shot_file,
        folder=folder,
        frames=frames,
        scene=scene,
        tolerance_px=choices["tolerance"],
        pictures=choices["pictures"],
        samples=choices["samples"],
        depth_of_field=choices["depth_of_field"],
        every_pixel=choices["every_pixel"],
        full_size=choices["full_size"],
        chunk=choices["chunk"],
        key=make_job(plan, shot_file=shot_file, scene=scene).key,
    )
    place = folder / TEMPLATE
    write_text(place, template_text(template))
    echo(f"wrote {place}: {len(frames)} test frames, {choices['chunk']} a task; then a judge")
    needed = [
        f"{one['name']}={path.resolve()}"
        for one, path in zip(template["parameterDefinitions"], [shot_file, *([scene] if scene else [])], strict=False)
        if "default" not in one
    ]
    if underglass := _own_command():
        needed.append(f"Underglass={underglass}")
    command = ["openjd", "run", str(place.resolve()), *(word for value in needed for word in ("-p", value))]
    echo(f"try it here: {shlex.join(command)} --step Judge --run-dependencies")


def _own_command() -> str:
    """Return the place of the command, which a runner may not find by its name; empty where it is not installed."""
    beside = Path(sys.executable).parent
    found = shutil.which("underglass") or shutil.which("underglass", path=str(beside))
    return str(Path(found).absolute()) if found else ""
