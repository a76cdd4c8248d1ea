# SPDX-License-Identifier: GPL-3.0-or-later
"""Inside Blender: what panels write at several widths of the sidebar, heard by a layout that draws nothing.

``narrow.py FOLDER``: FOLDER holds line-up/.
"""

import sys
from pathlib import Path
from types import SimpleNamespace

import bpy

from ui import extension

extension.enable()

live = extension.part("ui.live_stack")
shown = extension.part("ui.shown_words")
lens_panel = extension.part("ui.lens_panel")
move_panel = extension.part("ui.move_panel")
readings_panel = extension.part("ui.readings_panel")
stack_operators = extension.part("ui.stack_operators")
shot_operators = extension.part("ui.shot_operators")
panels = extension.part("ui.panels")
FOLDER = Path(sys.argv[1])
ops = bpy.ops.underglass
WIDTHS = (200, 292, 591)


class Heard:
    """A layout that keeps what is written into it, as (what, name, text); whatever is laid out is itself again."""

    def __init__(self):
        object.__setattr__(self, "said", [])
        object.__setattr__(self, "splits", False)

    def __setattr__(self, name, value):
        if name == "use_property_split":
            object.__setattr__(self, "splits", value)

    def __getattr__(self, name):
        if name == "panel":
            return lambda *_, **__: (self, None)
        return lambda *_, **__: self

    def label(self, *, text="", **_):
        self.said.append(["label", "", text])

    def prop(self, owner, name, *, text=None, **_):
        known = owner.bl_rna.properties if isinstance(owner, bpy.types.bpy_struct) else {}
        said = known[name].name if text is None and name in known else text
        self.said.append(["beside" if self.splits and said else "field", name, said])

    def operator(self, name, *, text=None, **_):
        self.said.append(["button", name.removeprefix("underglass."), text])
        return SimpleNamespace()


def written(panel, width):
    scene = bpy.context.scene
    # without a window Blender has no scale of its interface
    preferences = SimpleNamespace(system=SimpleNamespace(ui_scale=1.0))
    context = SimpleNamespace(
        scene=scene, region=SimpleNamespace(width=width), preferences=preferences, view_layer=bpy.context.view_layer
    )
    context.mode, context.active_object, context.object = "OBJECT", None, None
    layout, now = Heard(), live.live(scene)
    panel.show(SimpleNamespace(layout=layout), context, now, live.row_of(now.plan, scene.frame_current))
    return layout.said


def widest(said):
    blf = shown.blf
    blf.size(0, shown.LETTERS_PT)
    return max((blf.dimensions(0, text)[0] for kind, _, text in said if kind == "beside"), default=0.0)


def menu_of(level):
    ops.show_level(level=level)
    layout = Heard()
    stack_operators.UNDERGLASS_MT_levels.draw(SimpleNamespace(layout=layout), bpy.context)
    return [text for _, name, text in layout.said if name == "hide_level"]


def dialog(name):
    layout = Heard()
    operator = SimpleNamespace(layout=layout, drop_unsaved=False)
    getattr(shot_operators, name).draw(operator, bpy.context)
    return [name for _, name, _ in layout.said]


ops.open_shot(filepath=str(FOLDER / "line-up" / "shot.toml"))
bpy.context.scene.frame_set(12)
found = {}
for width in WIDTHS:
    lens = written(lens_panel.UNDERGLASS_PT_lens, width)
    move = written(move_panel.UNDERGLASS_PT_move, width)
    readings = written(readings_panel.UNDERGLASS_PT_readings, width)
    found[str(width)] = {
        "lens": [[name for kind, name, _ in lens if kind != "label"], widest(lens)],
        "lens words": [text for _, _, text in lens],
        "ends": [text for kind, name, text in move if name == "show_level" and text],
        "moves": [name for _, name, _ in move if name == "edit_move"],
        "readings": [readings[0][2], any(text.startswith("+") for *_, text in readings[1:])],
    }
found["menu"] = menu_of("card B")
ops.hide_level(level="card B")
found["menu"] += menu_of("card B")
found["calm"] = [dialog(name) for name in ("UNDERGLASS_OT_open_shot", "UNDERGLASS_OT_new_from_art")]
live.glass_of(bpy.context.scene, "card D").location[0] += 0.01
bpy.context.view_layer.update()
live.refresh(bpy.context.scene)
found["unsaved"] = [dialog(name) for name in ("UNDERGLASS_OT_open_shot", "UNDERGLASS_OT_new_from_art")]
answer(found)  # type: ignore[name-defined]  # noqa: F821
