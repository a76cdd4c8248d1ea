"""What the panels of the tab have in common: where they are, what they are given, and how they lay out words."""

from typing import Any

from . import live, shown


class Tab:
    """A panel of the tab."""

    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = "Underglass"


class StackPanel(Tab):
    """A panel that is there once the scene has a shot that can be read: ``show`` is given the moment and its row."""

    @classmethod
    def poll(cls, context: Any) -> bool:
        return live.live(context.scene) is not None

    def draw(self, context: Any) -> None:
        scene = context.scene
        now = live.live(scene)
        if now is None:
            return
        self.show(context, now, live.row_of(now.plan, scene.frame_current))


def wrapped(layout: Any, text: str, room: shown.Room, *, icon: str = "NONE") -> None:
    """Write ``text`` over as many lines as it needs."""
    icons = shown.icons()
    begins = icons[icon]
    goes_on = icons["BLANK1"] if begins else 0
    column = layout.column(align=True)
    column.scale_y = 0.8
    for line in room.lines(text, icon=bool(begins)):
        column.label(text=line, icon_value=begins)
        begins = goes_on
