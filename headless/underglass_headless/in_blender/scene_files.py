# SPDX-License-Identifier: GPL-3.0-or-later
"""Opening scenes in a process that holds Blender: a .blend with its scripts switched off, or an empty one."""

import bpy

from ..blender.blender_process import SceneFileError


def open_file(path: str) -> None:
    """Open a .blend with its scripts switched off; raises SceneFileError."""
    try:
        bpy.ops.wm.open_mainfile(filepath=path, load_ui=False, use_scripts=False)
    except RuntimeError as error:
        # A file that was opened with a complaint, such as of a library that is not there, is opened.
        if bpy.data.filepath != path:
            reason = " ".join(str(error).split()).rsplit(": ", 1)[-1]
            remedy = "save it again, or take an earlier copy of it"
            raise SceneFileError(f"{path}: Blender cannot read it ({reason}); {remedy}") from None


def start_empty() -> None:
    """Start with an empty scene of Blender's own making, whatever its user has set up."""
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
