"""The picture of the stand in the sidebar: an icon that follows the frame, drawn anew when one pixel of it changes."""

from typing import Any

import bpy.utils.previews

from ..stage import marks
from . import elevation, live

SIZE = (256, 256)
KEY = "stand"

_previews: Any = None
_picture: Any = None
_icon = 0
# The moment that is shown, its side, what it is drawn in, and what of it the pixels come from.
_now: live.Live | None = None
_side: Any = None
_paper: Any = None
_ink: Any = None
_row = -1
_shown: tuple[Any, ...] = ()


def attach() -> None:
    """Make room for the picture."""
    global _previews
    _previews = bpy.utils.previews.new()


def detach() -> None:
    """Take the picture away."""
    global _previews, _picture, _icon, _paper, _now, _side, _ink, _shown
    if _previews is not None:
        bpy.utils.previews.remove(_previews)
    _previews, _picture, _paper, _now, _side, _ink = None, None, None, None, None, None
    _icon, _shown = 0, ()


def icon(context: Any, now: live.Live, row: int) -> int:
    """Return the number of the icon that shows the stand on the frame of ``row``."""
    global _now, _side, _ink, _row, _shown
    if _picture is None:
        _begin()
    if _now is not now:
        _now, _side = now, elevation.side_of(now.plan, size=SIZE)
    if row == _row or _ink is None:
        # a theme is changed while a frame stands, and the window is drawn anew for it: a frame change need not ask
        _ink = tuple(context.preferences.themes[0].user_interface.wcol_box.text)[:3]
    _row = row
    active = context.view_layer.objects.active
    chosen = str(active.get(marks.LEVEL, "")) if active is not None else ""
    shown = (_side.names, _side.places[row], _ink, chosen)
    if shown != _shown:
        _paper.draw(elevation.elevation(_side, row, ink=_ink, chosen=chosen))
        _picture.image_pixels.foreach_set(_paper.pixels)
        _shown = shown
    return _icon


def _begin() -> None:
    """Make the icon; what it shows comes with the first frame."""
    global _picture, _icon, _paper
    _picture = _previews.new(KEY)
    _picture.image_size = SIZE
    _icon, _paper = _picture.icon_id, elevation.Paper(SIZE)


CLASSES: tuple[type, ...] = ()
