# SPDX-License-Identifier: GPL-3.0-or-later
"""What the panels of the tab have in common: where they are, what they are given, and how they lay out words."""

from typing import Any

from . import live_stack, shown_words


class Tab:
    """A panel of the tab."""

    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = "Underglass"


class StackPanel(Tab):
    """A panel that is there once the scene has a shot that can be read: ``show`` is given the moment and its row."""

    @classmethod
    def poll(cls, context: Any) -> bool:
        return live_stack.live(context.scene) is not None

    def draw(self, context: Any) -> None:
        scene = context.scene
        now = live_stack.live(scene)
        if now is None:
            return
        self.show(context, now, live_stack.row_of(now.plan, scene.frame_current))


def wrapped(layout: Any, text: str, room: shown_words.Room, *, icon: str = "NONE") -> None:
    """Write ``text`` over as many lines as it needs."""
    icons = shown_words.icons()
    begins = icons[icon]
    goes_on = icons["BLANK1"] if begins else 0
    column = layout.column(align=True)
    column.scale_y = 0.8
    for line in room.lines(text, icon=bool(begins)):
        column.label(text=line, icon_value=begins)
        begins = goes_on


def fullest_title(titles: tuple[str, ...], room: shown_words.Room) -> str:
    """Return the fullest title that a group has room for."""
    return next((one for one in titles if room.fits_button(one, beside=shown_words.GROUP_BORDER_PT)), titles[-1])
