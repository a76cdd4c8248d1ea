# SPDX-License-Identifier: GPL-3.0-or-later
"""The one ordered list of what Underglass adds to Blender, undone in exact reverse, all or nothing.

Nothing here may touch the context or the data: Blender withholds both while it enables an add-on.
"""

from contextlib import ExitStack

import bpy

from .ui import (
    lens_fields,
    level_operators,
    move_operators,
    panels,
    place_fields,
    proof_operators,
    proof_pictures,
    put_away,
    rescue_operators,
    scene_properties,
    shot_operators,
    side_view,
    stack_operators,
    typed_lens,
    versions_panel,
    viewport_overlay,
    watch_changes,
)

# In the order in which they need each other: the settings first, what draws and watches last.
ROOMS = (
    scene_properties,
    lens_fields,
    typed_lens,
    shot_operators,
    rescue_operators,
    level_operators,
    stack_operators,
    move_operators,
    place_fields,
    proof_operators,
    proof_pictures,
    put_away,
    side_view,
    panels,
    versions_panel,
    viewport_overlay,
    watch_changes,
)
CLASSES: tuple[type, ...] = tuple(cls for room in ROOMS for cls in room.CLASSES)
# Pairs of what is attached to Blender beside its classes, and what takes it off again.
ATTACHMENTS = tuple((room.attach, room.detach) for room in ROOMS if hasattr(room, "attach"))

_undoing = ExitStack()


def register() -> None:
    """Register every class and attach the rest; if one fails, take back those before it and raise.

    Blender would forget the add-on and keep its classes.
    """
    with ExitStack() as undoing:
        for cls in CLASSES:
            bpy.utils.register_class(cls)
            undoing.callback(bpy.utils.unregister_class, cls)
        for attach, detach in ATTACHMENTS:
            attach()
            undoing.callback(detach)
        _undoing.push(undoing.pop_all())


def unregister() -> None:
    """Undo what ``register`` did, last first; a step that fails does not keep the others from being undone."""
    _undoing.close()
