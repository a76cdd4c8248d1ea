"""The picture of the stand in the sidebar: an icon whose pixels follow the frame, kept until something moves."""

from typing import Any

import bpy.utils.previews

from ..stage import marks
from . import elevation, live

SIZE = (256, 256)
KEY = "stand"

_previews: Any = None
_side: Any = None
_shown: tuple[Any, ...] = ()


def attach() -> None:
    """Make room for the picture."""
    global _previews
    _previews = bpy.utils.previews.new()


def detach() -> None:
    """Take the picture away."""
    global _previews, _shown, _side
    if _previews is not None:
        bpy.utils.previews.remove(_previews)
    _previews, _shown, _side = None, (), None


def icon(context: Any, now: live.Live) -> int:
    """Return the number of the icon that shows the stand on the present frame."""
    global _shown, _side
    row = live.row_of(now.plan, context.scene.frame_current)
    ink = tuple(context.preferences.themes[0].user_interface.wcol_box.text)[:3]
    active = context.view_layer.objects.active
    chosen = str(active.get(marks.LEVEL, "")) if active is not None else ""
    state = (row, ink, chosen)
    preview = _previews.get(KEY)
    if preview is None:
        preview = _previews.new(KEY)
        preview.image_size = SIZE
    if not _shown or _shown[0] is not now or _shown[1:] != state:
        if not _shown or _shown[0] is not now:
            _side = elevation.side_of(now.plan, size=SIZE)
        picture = elevation.elevation(_side, row, ink=ink, chosen=chosen)
        preview.image_pixels.foreach_set(picture.ravel())
        _shown = (now, *state)
    return preview.icon_id


CLASSES: tuple[type, ...] = ()
