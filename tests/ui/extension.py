# SPDX-License-Identifier: GPL-3.0-or-later
"""Inside Blender: the add-on as a user has it, copied into the extensions' folder of this process and enabled."""

import shutil
from pathlib import Path

import bpy

SOURCE = Path(__file__).resolve().parents[2] / "blender_addon" / "underglass"
NAME = "bl_ext.user_default.underglass"


def enable():
    """Copy the add-on into this Blender's own extensions and enable it; returns its module."""
    import addon_utils  # it is found once bpy is there

    repository = next(repo for repo in bpy.context.preferences.extensions.repos if repo.module == "user_default")
    place = Path(repository.directory) / "underglass"
    shutil.copytree(SOURCE, place, dirs_exist_ok=True, ignore=shutil.ignore_patterns("__pycache__"))
    addon_utils.extensions_refresh()
    module = addon_utils.enable(NAME)
    if module is None:
        raise RuntimeError("the add-on cannot be enabled; see the traceback above")
    return module


def part(name):
    """Return a module of the enabled add-on, such as ``ui.live_stack``."""
    import importlib

    return importlib.import_module(f"{NAME}.{name}")


def refused(operator, **arguments):
    """Return what an operator says that does not do it, empty where it did."""
    try:
        operator(**arguments)
    except RuntimeError as error:
        return " ".join(str(error).removeprefix("Error: ").split())
    return ""


def empty():
    """Begin with an empty file; enabled extensions stay, as factory settings would not let them."""
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
