"""The one ordered list of what Underglass adds to Blender, undone in exact reverse, all or nothing.

Nothing here may touch the context or the data: Blender withholds both while it enables an add-on.
"""

from contextlib import ExitStack

import bpy

# In the order in which they need each other: a property group before the class that points to it.
CLASSES: tuple[type, ...] = ()

_undoing = ExitStack()


def register() -> None:
    """Register every class; if one fails, take back those before it and raise.

    Blender would forget the add-on and keep its classes.
    """
    with ExitStack() as undoing:
        for cls in CLASSES:
            bpy.utils.register_class(cls)
            undoing.callback(bpy.utils.unregister_class, cls)
        _undoing.push(undoing.pop_all())


def unregister() -> None:
    """Undo what ``register`` did, last first; a step that fails does not keep the others from being undone."""
    _undoing.close()
