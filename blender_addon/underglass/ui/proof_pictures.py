# SPDX-License-Identifier: GPL-3.0-or-later
"""The pictures of a proof: kept with the shot once it is done, and shown in one window, whichever is asked for."""

import contextlib
import shutil
from pathlib import Path
from typing import Any

import bpy

from ..proof import proof_beside_window
from . import live_stack
from .report_operator import failed, reported

# In the shot's folder, beside those that the commands make: what was proved last from a window.
FOLDER = "proof-in-window"

_kept: dict[str, dict[int, Path]] = {}
_window = 0


def keep(shot_file: Path, said: proof_beside_window.Finished) -> dict[int, Path]:
    """Put the pictures of a proof and its record into the shot's folder, in the place of the last ones; return them.

    Where that folder cannot be written the pictures stay where they are.
    """
    folder = shot_file.parent / FOLDER
    try:
        making = folder.with_name(f".{FOLDER}.making")
        shutil.rmtree(making, ignore_errors=True)
        (making / proof_beside_window.PICTURES).mkdir(parents=True)
        for path in said.pictures.values():
            shutil.copyfile(path, making / proof_beside_window.PICTURES / path.name)
        if said.proof_file.is_file():
            shutil.copyfile(said.proof_file, making / proof_beside_window.PROOF)
        shutil.rmtree(folder, ignore_errors=True)
        making.rename(folder)
    except OSError:
        return dict(said.pictures)
    pictures = {frame: folder / proof_beside_window.PICTURES / path.name for frame, path in said.pictures.items()}
    _kept[str(shot_file)] = pictures
    return pictures


def kept_with(scene: Any) -> dict[int, Path]:
    """Return the pictures, by frame, of the proof that was last made of the shot of ``scene`` from a window."""
    path = live_stack.shot_path(scene)
    if path is None:
        return {}
    if str(path) not in _kept:
        _kept[str(path)] = _found(path.parent / FOLDER)
    return _kept[str(path)]


def _found(folder: Path) -> dict[int, Path]:
    with contextlib.suppress(OSError, ValueError, KeyError):
        said = proof_beside_window.poll(folder) if (folder / proof_beside_window.PROOF).is_file() else None
        if isinstance(said, proof_beside_window.Finished):
            return {frame: path for frame, path in said.pictures.items() if path.is_file()}
    return {}


def forget() -> None:
    """Forget which pictures there are."""
    _kept.clear()


class UNDERGLASS_OT_show_picture(bpy.types.Operator):
    """Show the rendered frame in a window beside this one; every picture is shown in the same window"""

    bl_idname = "underglass.show_picture"
    bl_label = "Show Picture"

    frame: bpy.props.IntProperty(name="Frame")

    @reported
    def execute(self, context: Any) -> set[str]:
        path = kept_with(context.scene).get(self.frame)
        if path is None or not path.is_file():
            forget()
            return failed(self, context.scene, f"there is no picture of frame {self.frame}: prove again")
        image = bpy.data.images.load(str(path), check_existing=True)
        # another proof may have put another picture there
        image.reload()
        area = _area(context)
        area.type = "IMAGE_EDITOR"
        area.spaces.active.image = image
        return {"FINISHED"}


def _area(context: Any) -> Any:
    """Return the area that pictures are shown in: that of the window of before, where it is open and shows one."""
    global _window
    for window in context.window_manager.windows:
        areas = window.screen.areas
        if window.as_pointer() == _window and len(areas) == 1 and areas[0].type == "IMAGE_EDITOR":
            return areas[0]
    bpy.ops.wm.window_new()
    window = context.window_manager.windows[-1]
    _window = window.as_pointer()
    return window.screen.areas[0]


CLASSES = (UNDERGLASS_OT_show_picture,)
