# SPDX-License-Identifier: GPL-3.0-or-later
"""Inside Blender: every kind of edit goes its way, each on a copy of the line-up. ``many_edits.py FOLDER``."""

import sys
import traceback
from pathlib import Path

import bpy

from ui import extension

extension.enable()

from ui import edit_kinds, edit_trips  # noqa: E402  they ask for parts of the add-on

FOLDER = Path(sys.argv[1])


def one(edit):
    extension.empty()
    shot_file = FOLDER / edit.__name__ / "shot.toml"
    bpy.ops.underglass.open_shot(filepath=str(shot_file))
    try:
        return edit_trips.trip(edit, shot_file)
    except Exception:
        return {"traceback": traceback.format_exc()}


answer({edit.__name__: one(edit) for edit in (*edit_kinds.SAVED, *edit_kinds.REFUSED)})  # type: ignore[name-defined]  # noqa: F821
