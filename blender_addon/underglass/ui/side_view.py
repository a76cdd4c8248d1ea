# SPDX-License-Identifier: GPL-3.0-or-later
"""The picture of the stand in the sidebar: an icon that follows the frame, drawn anew when one pixel of it changes."""

from typing import Any

import bpy.utils.previews

from ..stage import stack_marks
from . import live_stack, side_pixels

KEY = "stand"
# A picture that is not drawn at its own size is blurred; of more pixels than these a frame change would take too long.
MOST_PX = 720

_previews: Any = None
_picture: Any = None
_icon = 0
_size_px = 0
# The moment that is shown, its side, what it is drawn in, and what of it the pixels come from.
_now: live_stack.Live | None = None
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


def icon(context: Any, now: live_stack.Live, row: int, *, size_px: int) -> int:
    """Return the number of the icon that shows the stand on the frame of ``row``, to be drawn ``size_px`` wide."""
    global _now, _side, _ink, _row, _shown
    size_px = min(size_px, MOST_PX)
    if _picture is None or size_px != _size_px:
        _begin(size_px)
    if _now is not now:
        pens = side_pixels.pens_for(context.preferences.system.ui_scale)
        _now, _side = now, side_pixels.side_of(now.plan, size=(size_px, size_px), pens=pens)
    if row == _row or _ink is None:
        # a theme is changed while a frame stands, and the window is drawn anew for it: a frame change need not ask
        _ink = tuple(context.preferences.themes[0].user_interface.wcol_box.text)[:3]
    _row = row
    active = context.view_layer.objects.active
    chosen = str(active.get(stack_marks.LEVEL, "")) if active is not None else ""
    shown = (_side.names, _side.places[row], _ink, chosen)
    if shown != _shown:
        _paper.draw(side_pixels.elevation(_side, row, ink=_ink, chosen=chosen))
        _picture.image_pixels.foreach_set(_paper.pixels)
        _shown = shown
    return _icon


def _begin(size_px: int) -> None:
    """Make the icon of a size; what it shows comes with the first frame."""
    global _picture, _icon, _paper, _size_px, _now, _shown
    if _picture is None:
        _picture = _previews.new(KEY)
    _picture.image_size = (size_px, size_px)
    _icon, _paper = _picture.icon_id, side_pixels.Paper((size_px, size_px))
    _size_px, _now, _shown = size_px, None, ()


CLASSES: tuple[type, ...] = ()
