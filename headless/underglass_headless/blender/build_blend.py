# SPDX-License-Identifier: GPL-3.0-or-later
"""Building a .blend from a shot file: Blender does it in a process of its own, the file appears by rename."""

import contextlib
import secrets
from contextlib import closing
from pathlib import Path

from underglass.plan import make_plan
from underglass.shot.files import read_shot
from underglass.shot.files.shot_fingerprint import fingerprint

from ..results import ResultError, making_name, work_folder
from .blender_process import BlenderError, require_blend, run_worker


def build_scene(
    shot_file: Path, *, output: Path, engine: str = "cycles", proof_passes: bool = False, pack: bool = False
) -> tuple[str, ...]:
    """Build the stack of the shot into ``output``; in a file that exists, the stack is replaced and the rest stays.

    ``engine`` is what it will be rendered with, cycles or eevee; with ``proof_passes`` the frames can prove themselves.
    With ``pack`` the art lies in the .blend too, so that it is rendered right wherever it alone is brought.

    Returns what of the rest changes the picture nonetheless, each in words.
    Raises ShotError, SceneFileError and ResultError before Blender is started, BlenderError if it fails; ``output`` is
    then as it was.
    """
    shot = read_shot(shot_file)
    make_plan(shot)
    if output.suffix != ".blend":
        raise ResultError(f"{output}: is no name for a Blender file; let it end in .blend")
    if not output.parent.is_dir():
        raise ResultError(f"{output}: the folder {output.parent} is not there; make it first, or choose another")
    existed = output.exists()
    if existed:
        require_blend(output)
    place = output.resolve()
    with work_folder(place.parent) as folder:
        # Beside its final place, not in the folder of what is in the making: paths to the art are kept relative.
        made = place.with_name(f"{making_name()}{secrets.token_hex(4)}.blend")
        job = {
            "task": "build",
            "shot": str(shot_file.resolve()),
            "scene": str(place) if existed else "",
            "fingerprint": fingerprint(shot),
            "engine": engine,
            "proof_passes": proof_passes,
            "pack": pack,
            "save": str(made),
        }
        try:
            with closing(run_worker(job, folder=folder)) as events:
                notices = tuple(event["message"] for event in events if event["event"] == "notice")
            if not made.is_file():
                raise BlenderError(f"Blender wrote no {output.name}")
            _place(made, place, output)
            return notices
        finally:
            with contextlib.suppress(OSError):
                made.unlink(missing_ok=True)


def _place(made: Path, place: Path, output: Path) -> None:
    try:
        made.replace(place)
    except OSError as error:
        raise ResultError(f"{output}: cannot be written: {error.strerror}; choose another place") from None
