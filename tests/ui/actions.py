"""Inside Blender: what an artist does with the stack by the add-on's operators, saved, opened again, undone.

``actions.py FOLDER``: a copy of a small shot for each action lies in FOLDER/<action>/, and FOLDER/other.png.
"""

import sys
from pathlib import Path

import bpy
import numpy as np

from ui import extension

extension.enable()
live = extension.part("ui.live")
readback = extension.part("stage.readback")
evaluated = extension.part("proof.evaluated")
compat = extension.part("compat")
planning = extension.part("plan")
shots = extension.part("shot")
FOLDER = Path(sys.argv[1])
OTHER = FOLDER / "other.png"
ops = bpy.ops.underglass


def glass(name):
    return live.glass_of(bpy.context.scene, name)


def choose(name):
    ops.show_level(level=name)


def places(scene):
    reading = readback.read_scene(scene, range(scene.frame_start, scene.frame_end + 1))
    corners = evaluated.scene_corners_px(reading)
    return {level.level: corners[:, number] for number, level in enumerate(reading.levels)}


def add_an_image():
    choose("card A")
    ops.add_level(filepath=str(OTHER))


def add_a_card():
    ops.add_card(name="mist")


def duplicate_a_moving_level():
    choose("card C")
    ops.duplicate_level()


def duplicate_a_level_with_drawings():
    choose("heron")
    ops.duplicate_level()


def replace_with_the_same_width():
    choose("card C")
    ops.replace_painting(filepath=str(OTHER), keep="width")


def replace_with_the_same_size_on_screen():
    choose("card A")
    ops.replace_painting(filepath=str(OTHER), keep="pixels")


def farther():
    choose("card B")
    ops.move_level(nearer=False)


def nearer_at_its_own_size():
    choose("card C")
    ops.move_level(nearer=True, keep_size=False)


def rename_the_level_in_focus():
    choose("card B")
    ops.rename_level(name="church")


def rename_a_level_with_drawings():
    choose("heron")
    ops.rename_level(name="grey heron")


def delete_a_level():
    choose("heron")
    ops.delete_level()


def count_in_inches():
    ops.set_units(units="in")


def edit_a_move():
    ops.edit_move(
        number=0, part="camera", axis="height", first=3, last=25, start=1310.0, end=1150.0, law="sine", about="card A"
    )


def add_a_move_to_one_that_rests():
    ops.add_move(
        part="card D", axis="north", first=1, last=12, start=-4.0, end=8.0, law="steady", slow_out=3.0, slow_in=2.0
    )


def truck_by_ratios():
    ops.edit_move(
        number=0, part="camera", axis="height", first=1, last=25, start=1300.0, end=1150.0, law="ratio", about="card D"
    )


def remove_a_move():
    ops.remove_move(number=2)


def type_a_height():
    choose("card D")
    bpy.context.scene.underglass_place.height = 112.5


def type_a_place_on_a_keyed_axis():
    choose("card A")
    bpy.context.scene.frame_set(12)
    bpy.context.scene.tool_settings.use_keyframe_insert_auto = True
    bpy.context.scene.underglass_place.east = 2.5
    bpy.context.scene.tool_settings.use_keyframe_insert_auto = False


def type_a_width():
    choose("card C")
    bpy.context.scene.underglass_place.width = 66.0


def many_things():
    add_an_image()
    choose("card A")
    ops.rename_level(name="near card")
    ops.duplicate_level()
    farther()
    ops.set_units(units="cm")
    choose("heron")
    ops.delete_level()


ACTIONS = [
    add_an_image,
    add_a_card,
    duplicate_a_moving_level,
    duplicate_a_level_with_drawings,
    replace_with_the_same_width,
    replace_with_the_same_size_on_screen,
    farther,
    nearer_at_its_own_size,
    rename_the_level_in_focus,
    rename_a_level_with_drawings,
    delete_a_level,
    count_in_inches,
    edit_a_move,
    add_a_move_to_one_that_rests,
    truck_by_ratios,
    remove_a_move,
    type_a_height,
    type_a_place_on_a_keyed_axis,
    type_a_width,
    many_things,
]


def opened(action):
    extension.empty()
    bpy.ops.underglass.open_shot(filepath=str(FOLDER / action.__name__ / "shot.toml"))
    # something that was moved by hand before, and is not saved
    glass("card D").location[0] += 0.003
    bpy.context.view_layer.update()
    return bpy.context.scene


def texts(folder):
    return {path.name: path.read_text() for path in folder.glob("*.*") if path.suffix in (".toml", ".csv")}


def one(action):
    scene = opened(action)
    folder = FOLDER / action.__name__
    files = texts(folder)
    width = scene.render.resolution_x
    before = places(scene)
    bpy.ops.ed.undo_push(message="opened")
    action()
    bpy.context.view_layer.update()
    bpy.ops.ed.undo_push(message="done")
    said, failed = scene.underglass.message, scene.underglass.is_error
    now = live.live(scene)
    found = {"said": said, "failed": failed, "trouble": now.trouble, "unsaved": now.unsaved}
    found["untouched"] = texts(folder) == files
    edited = places(scene)
    bpy.ops.ed.undo()
    scene = bpy.context.scene
    undone = places(scene)
    found["undone"] = max(float(np.abs(undone[name] - before[name]).max()) for name in before) / width
    found["undone_levels"] = sorted(undone) == sorted(before)
    found["undone_unsaved"] = live.live(scene).unsaved
    bpy.ops.ed.redo()
    scene = bpy.context.scene
    bpy.context.view_layer.update()
    found["result"] = list(ops.save_shot())
    found["saved"] = scene.underglass.message
    found["unsaved_after"] = live.live(scene).unsaved
    shot = shots.read_shot(folder)
    plan = planning.make_plan(shot)
    saved = places(scene)
    bpy.ops.ed.undo_push(message="saved")
    ops.reload_shot()
    again = places(scene)
    found["levels"] = list(plan.names)
    found["scene"] = sorted(again)
    found["built_again"] = max(float(np.abs(saved[name] - again[name]).max()) for name in again) / width
    found["edited"] = max(float(np.abs(edited[name] - again[name]).max()) for name in again) / width
    found["before"] = {name: corners.tolist() for name, corners in before.items()}
    found["after"] = {name: corners.tolist() for name, corners in again.items()}
    found["toml"] = (folder / "shot.toml").read_text()
    found["schedule"] = (folder / "schedule.csv").read_text()
    found["art"] = {level.name: [level.art, level.art_px] for level in shot.levels}
    return found


def and_undone_behind_the_save(action):
    """Done, saved, undone, done again, saved again: the files come to the same."""
    scene = opened(action)
    folder = FOLDER / action.__name__
    bpy.ops.ed.undo_push(message="opened")
    action()
    bpy.ops.ed.undo_push(message="done")
    ops.save_shot()
    saved = texts(folder)
    bpy.ops.ed.undo_push(message="saved")
    bpy.ops.ed.undo()
    result = list(ops.save_shot())
    scene = bpy.context.scene
    return {"result": result, "said": scene.underglass.message, "same": texts(folder) == saved}


chosen = sys.argv[2:] or [action.__name__ for action in ACTIONS]
answers = {}
for action in ACTIONS:
    if action.__name__ in chosen:
        files = {p: p.read_bytes() for p in (FOLDER / action.__name__).rglob("*") if p.is_file()}
        answers[action.__name__] = one(action)
        for path, data in files.items():
            path.write_bytes(data)
        answers[action.__name__]["again"] = and_undone_behind_the_save(action)
answer(answers)  # type: ignore[name-defined]  # noqa: F821
