"""The part of the Shot panel that says what Save will write, or why it will not, and what there is to do about it."""

from typing import Any

from . import live, looking, saving, shown
from .layouts import wrapped

_BUTTONS = {
    saving.SHIFT: ("underglass.shift_moves", "FORWARD"),
    saving.FRAMES: ("underglass.give_back_frames", "LOOP_BACK"),
    saving.KEYS: ("underglass.keys_to_whole_frames", "KEYFRAME"),
    saving.CUT: ("underglass.save_without", "FILE_TICK"),
    saving.COPY: ("underglass.save_copy", "DUPLICATE"),
}


def draw(layout: Any, scene: Any, now: live.Live, room: shown.Room) -> None:
    """Draw what is not saved yet, and what is in the way of saving it."""
    if now.trouble:
        box = layout.box()
        box.alert = True
        wrapped(box, f"Save will not write this: {now.trouble}", room, icon="ERROR")
        buttons = box.column(align=True)
        buttons.alert = False
        _offer(buttons, now)
    if now.unsaved:
        wrapped(layout, f"Not saved yet: {', '.join(now.unsaved)}", room, icon="GREASEPENCIL")
    for remark in dict.fromkeys((*looking.here(scene), *now.remarks)):
        wrapped(layout, remark, room, icon="INFO")
    if now.offers and not now.trouble:
        _offer(layout.column(align=True), now)


def _offer(buttons: Any, now: live.Live) -> None:
    icons = shown.icons()
    for offer in now.offers:
        operator, icon = _BUTTONS[offer]
        if offer == saving.FRAMES and now.whole:
            text = f"Give Back Frames {now.whole[0]}–{now.whole[1]}"
            buttons.operator(operator, text=text, icon_value=icons[icon])
        else:
            buttons.operator(operator, icon_value=icons[icon])
