# SPDX-License-Identifier: GPL-3.0-or-later
"""The part of the Shot panel that says what Save will write, or why it will not, and what there is to do about it."""

from typing import Any

from . import live_stack, save_scene, scene_remarks, shown_words
from .layouts import wrapped

_BUTTONS = {
    save_scene.SHIFT: ("underglass.shift_moves", "FORWARD"),
    save_scene.FRAMES: ("underglass.give_back_frames", "LOOP_BACK"),
    save_scene.KEYS: ("underglass.keys_to_whole_frames", "KEYFRAME"),
    save_scene.CUT: ("underglass.save_without", "FILE_TICK"),
    save_scene.COPY: ("underglass.save_copy", "DUPLICATE"),
}


def draw(layout: Any, scene: Any, now: live_stack.Live, room: shown_words.Room) -> None:
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
    for remark in dict.fromkeys((*scene_remarks.here(scene), *now.remarks)):
        wrapped(layout, remark, room, icon="INFO")
    if now.offers and not now.trouble:
        _offer(layout.column(align=True), now)


def _offer(buttons: Any, now: live_stack.Live) -> None:
    icons = shown_words.icons()
    for offer in now.offers:
        operator, icon = _BUTTONS[offer]
        if offer == save_scene.FRAMES and now.whole:
            text = f"Give Back Frames {now.whole[0]}–{now.whole[1]}"
            buttons.operator(operator, text=text, icon_value=icons[icon])
        else:
            buttons.operator(operator, icon_value=icons[icon])
