"""Building a .blend from a shot file: Blender does it in a process of its own, the file appears by rename."""

from pathlib import Path

from underglass.plan import make_plan
from underglass.shot import read_shot

from ..report.files import ResultError
from .blender_process import BlenderError, run_worker
from .fingerprint import fingerprint
from .proving import work_folder


def build_scene(shot_file: Path, *, output: Path) -> None:
    """Build the stack of the shot into ``output``; in a file that exists, the stack is replaced and the rest stays.

    Raises ShotError before Blender is started, BlenderError if it fails; ``output`` is then as it was.
    """
    shot = read_shot(shot_file)
    make_plan(shot)
    if output.suffix != ".blend":
        raise ResultError(f"{output}: is no name for a Blender file; let it end in .blend")
    with work_folder(output.resolve().parent) as folder:
        # Beside its final place, not in the folder of what is in the making: paths to the art are kept relative.
        made = output.with_name(f".{output.stem}.making.blend")
        job = {
            "task": "build",
            "shot": str(shot_file.resolve()),
            "scene": str(output.resolve()) if output.exists() else "",
            "fingerprint": fingerprint(shot),
            "save": str(made.resolve()),
        }
        try:
            for _ in run_worker(job, folder=folder):
                pass
            if not made.is_file():
                raise BlenderError(f"Blender wrote no {output.name}")
            made.replace(output)
        finally:
            made.unlink(missing_ok=True)
