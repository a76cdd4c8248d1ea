# SPDX-License-Identifier: GPL-3.0-or-later
"""Copies beside the shot: what Save refuses is kept all the same, by a name that the artist gives it."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import bpy

from ..shot import ShotError, UnderglassError
from ..shot.errors import Place
from ..shot.files import chart_csv, drawings_csv, schedule_csv, shot_toml
from ..shot.files.replace_files import replace_files
from . import live_stack, save_scene

_UNUSABLE = set('/\\:*?"<>|')


def free_name(scene: Any) -> str:
    """Return a name that no file beside the shot of ``scene`` has yet."""
    path = live_stack.shot_path(scene)
    assert path is not None
    names = (f"{path.stem} copy{f' {number}' if number > 1 else ''}" for number in range(1, 10_000))
    return next(name for name in names if not any(file.exists() for file in _files(path, name).values()))


def keep(scene: Any, name: str) -> list[Path]:
    """Write ``scene`` beside its shot by ``name`` and return the files: a .blend, and the shot's where it can be said.

    No file that is there is touched. Raises UnderglassError.
    """
    path = live_stack.shot_path(scene)
    assert path is not None
    name = name.strip()
    if not name or name.startswith(".") or _UNUSABLE & set(name):
        raise UnderglassError(f"{name!r} is no name for a file; write letters, numbers and blanks")
    files = _files(path, name)
    taken = next((file for file in files.values() if file.exists()), None)
    if taken is not None:
        raise ShotError(Place(taken), "is there already", "choose another name")
    kept = _texts(scene, files)
    if kept:
        replace_files(kept)
    try:
        bpy.ops.wm.save_as_mainfile(filepath=str(files["scene"]), copy=True, check_existing=False)
    except RuntimeError as error:
        raise UnderglassError(f"a copy of the scene cannot be saved: {' '.join(str(error).split())}") from None
    return [*kept, files["scene"]]


def _files(path: Path, name: str) -> dict[str, Path]:
    ends = {"shot": ".toml", "schedule": " schedule.csv", "chart": " chart.csv", "drawings": " drawings.csv"}
    return {part: path.with_name(f"{name}{end}") for part, end in {**ends, "scene": ".blend"}.items()}


def _texts(scene: Any, files: dict[str, Path]) -> dict[Path, str]:
    """Return the texts of the shot as the scene has it; none where it is nothing that a shot could say."""
    try:
        shot = save_scene.revised(scene)[2].shot
    except UnderglassError:
        return {}
    parts = {"schedule": bool(shot.schedule), "chart": bool(shot.chart.columns), "drawings": bool(shot.drawings.levels)}
    named = replace(shot, **{f"{part}_file": files[part].name if there else "" for part, there in parts.items()})
    writers = {"schedule": schedule_csv, "chart": chart_csv, "drawings": drawings_csv}
    texts = {files[part]: write(named) for part, write in writers.items() if parts[part]}
    return {**texts, files["shot"]: shot_toml(named)}
