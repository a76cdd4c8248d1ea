# SPDX-License-Identifier: GPL-3.0-or-later
"""Watching: what tells the sidebar that something changed, in the scene, by undo, or in the files on disk."""

from contextlib import suppress
from typing import Any

import bpy
from bpy.app.handlers import persistent

from ..shot import UnderglassError
from ..shot.files.stamp import stamp
from ..shot.words import first_of
from ..stage import stack_marks
from . import (
    find_files,
    held_levels,
    live_stack,
    proof_operators,
    proof_pictures,
    put_away,
    read_at_rest,
    shot_and_scene,
    shot_snapshots,
    typed_lens,
    versions_panel,
)
from .redraw import redraw_viewports

LOOK_EVERY_S = 1.0
CHANGED = "changed on disk since it was read: reload it, or save elsewhere"

# Which files of a scene changed, by the scene.
_changed: dict[int, list[str]] = {}
_FEW = 2
_is_following = False


def is_changed_on_disk(scene: Any) -> bool:
    """Return whether the files of the shot changed since they were read or written here."""
    return scene.as_pointer() in _changed


def changed_words(scene: Any) -> str:
    """Return what there is to do about the files of ``scene``, which changed or are gone."""
    path = live_stack.shot_path(scene)
    if path is not None and not path.is_file():
        return f"{path}: {find_files.GONE}"
    return f"{first_of(_changed.get(scene.as_pointer()) or ['The shot'], _FEW)}: {CHANGED}"


def look_at_files() -> float:
    """Look whether a shot's files changed; returns when to look again."""
    for scene in bpy.data.scenes:
        path = live_stack.shot_path(scene)
        key = scene.as_pointer()
        if path is None:
            continue
        with suppress(UnderglassError):
            shot_and_scene.follow_folder(scene)
        put_away.look(scene)
        versions_panel.look(scene)
        was, on_disk = _changed.get(key), stamp(path)
        proof_operators.files_are(scene, on_disk)
        if shot_and_scene.is_known(on_disk, scene):
            _changed.pop(key, None)
        else:
            _changed[key] = find_files.changed(scene, path) if path.is_file() else [path.name]
        if live_stack.notice(scene, on_disk) or was != _changed.get(key):
            redraw_viewports()
    if proof_operators.is_running():
        proof_operators.look()
        redraw_viewports()
    return LOOK_EVERY_S


@persistent
def _edited(scene: Any, depsgraph: Any) -> None:
    """Have the stack worked out anew where something of it was touched."""
    blocks = [update.id for update in depsgraph.updates]
    if any(isinstance(block, bpy.types.Camera) for block in blocks):
        typed_lens.notice(scene)
    if any(map(_concerns, blocks)) and read_at_rest.touched():
        live_stack.refresh(scene)
        _follow_held(scene)


def _concerns(block: Any) -> bool:
    if isinstance(block, bpy.types.Object | bpy.types.Camera | bpy.types.Mesh):
        return stack_marks.is_ours(block.original)
    return isinstance(block, bpy.types.Action | bpy.types.Scene)


def _follow_held(scene: Any) -> None:
    """Key held levels anew for a camera that was changed; what that sets off is no change of its own."""
    global _is_following
    if _is_following:
        return
    _is_following = True
    try:
        held_levels.follow(scene)
    finally:
        _is_following = False


@persistent
def _elsewhere(*_: Any) -> None:
    """Forget all: another file was loaded, or undo went to another state."""
    live_stack.forget()
    put_away.forget()
    versions_panel.forget()
    _changed.clear()


@persistent
def _loaded(*_: Any) -> None:
    """Forget all, and the proof too: it was another file's."""
    _elsewhere()
    shot_snapshots.clear()
    proof_operators.clear()
    proof_pictures.forget()


HANDLERS = (
    ("depsgraph_update_post", _edited),
    ("load_post", _loaded),
    ("undo_post", _elsewhere),
    ("redo_post", _elsewhere),
)
CLASSES: tuple[type, ...] = ()


def attach() -> None:
    """Begin to watch."""
    for name, handler in HANDLERS:
        getattr(bpy.app.handlers, name).append(handler)
    bpy.app.timers.register(look_at_files, first_interval=LOOK_EVERY_S, persistent=True)
    read_at_rest.attach()


def detach() -> None:
    """Watch no longer, and keep nothing."""
    if bpy.app.timers.is_registered(look_at_files):
        bpy.app.timers.unregister(look_at_files)
    read_at_rest.detach()
    for name, handler in reversed(HANDLERS):
        getattr(bpy.app.handlers, name).remove(handler)
    live_stack.forget()
    _changed.clear()
