# SPDX-License-Identifier: GPL-3.0-or-later
"""Inside Blender: what an artist does with the stack by the add-on's operators, saved, opened again, undone.

``actions.py FOLDER``: a copy of a small shot for each action lies in FOLDER/<action>/, and FOLDER/other.png.
"""

import json
import shutil
import sys
from pathlib import Path

import bpy
import numpy as np

from ui import extension
from ui.extension import refused

extension.enable()
live = extension.part("ui.live_stack")
readback = extension.part("stage.read_scene")
evaluated = extension.part("proof.measure.evaluated_scene")
compat = extension.part("blender_versions")
planning = extension.part("plan")
shots = extension.part("shot.files")
marks = extension.part("stage.stack_marks")
watching = extension.part("ui.watch_changes")
put_away = extension.part("ui.put_away")
versions_panel = extension.part("ui.versions_panel")
proof_pictures = extension.part("ui.proof_pictures")
running = extension.part("proof.proof_beside_window")
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


def refusals():
    """What cannot be done is said in a line, and leaves scene, draft and files as they were."""
    scene = opened(refusals)
    folder = FOLDER / "refusals"
    files, art = texts(folder), sorted(path.name for path in (folder / "art").iterdir())
    said = {}
    bpy.context.view_layer.objects.active = None
    said["nothing chosen"] = refused(ops.duplicate_level)
    choose("card B")
    said["in focus"] = refused(ops.delete_level)
    said["taken"] = refused(ops.rename_level, name="heron")
    said["reserved"] = refused(ops.rename_level, name="camera")
    choose("card A")
    said["nearest"] = refused(ops.move_level, nearer=True)
    choose("card D")
    said["opaque"] = refused(ops.move_level, nearer=True)
    said["no image"] = refused(ops.add_level, filepath=str(folder / "schedule.csv"))
    said["no alpha"] = refused(ops.add_level, filepath=str(FOLDER / "opaque.png"))
    choose("heron")
    said["drawings"] = refused(ops.replace_painting, filepath=str(OTHER))
    row = {"number": 0, "part": "camera", "axis": "height", "first": 1, "last": 25, "start": 1300.0, "law": "steady"}
    said["through the stack"] = refused(ops.edit_move, **row, end=900.0)
    said["too many steps"] = refused(ops.edit_move, **row, end=1200.0, slow_out=20.0, slow_in=20.0)
    said["outside"] = refused(ops.edit_move, **row | {"last": 90}, end=1200.0)
    said["by hand"] = refused(
        ops.add_move, part="card D", axis="east", first=1, last=5, start=0.0, end=1.0, law="steady"
    )
    pull = bpy.data.objects.new("slider", None)
    scene.collection.objects.link(pull)
    glass("card C").parent = pull
    choose("card C")
    said["pulled"] = refused(ops.move_level, nearer=True)
    return {
        "said": said,
        "draft": scene.underglass.draft,
        "files": texts(folder) == files,
        "art": sorted(path.name for path in (folder / "art").iterdir()) == art,
        "levels": sorted(name for name, _ in marks.levels(scene)),
    }


def beside_the_stack():
    """A cube is told and put away; levels are hidden in the viewport; edges are blended; versions are compared."""
    extension.empty()
    scene = bpy.context.scene
    for name, place in (("Cube", (0, 0, 0)), ("far off", (30, 0, 0))):
        mesh = bpy.data.meshes.new(name)
        mesh.from_pydata([(x, y, z) for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)], [], [(0, 1, 3, 2)])
        thing = bpy.data.objects.new(name, mesh)
        thing.location = place
        home = bpy.data.collections.new(f"home of {name}")
        scene.collection.children.link(home)
        home.objects.link(thing)
    bpy.ops.underglass.open_shot(filepath=str(FOLDER / "beside_the_stack" / "shot.toml"))
    bpy.context.view_layer.update()
    watching.look_at_files()
    found = {"told": put_away.in_the_stack(scene)}
    ops.put_away()
    bpy.context.view_layer.update()
    cube = bpy.data.objects["Cube"]
    found["away"] = [cube.visible_get(), [home.name for home in cube.users_collection], cube.name in bpy.data.objects]
    found["hidden"] = [cube.users_collection[0].hide_render, cube.users_collection[0].hide_viewport]
    found["told after"] = put_away.in_the_stack(scene)
    ops.bring_back()
    bpy.context.view_layer.update()
    found["back"] = [cube.visible_get(), [home.name for home in cube.users_collection]]
    ops.put_away()

    scene.frame_set(1)
    before = live.live(scene).plan.tracks.levels["east"].tolist()
    ops.hide_level(level="card A")
    scene.frame_set(12)
    found["eye"] = [
        glass("card A").hide_get(),
        glass("card A").hide_render,
        "card A" in live.live(scene).hidden,
        live.live(scene).plan.tracks.levels["east"].tolist() == before,
        live.live(scene).unsaved,
    ]
    found["saved while hidden"] = [list(ops.save_shot()), scene.underglass.message]
    ops.hide_level(level="card A")

    scene.underglass.edges = "BLENDED"
    methods = {glass("card A").material_slots[0].material.surface_render_method}
    ops.reload_shot()
    methods.add(glass("card A").material_slots[0].material.surface_render_method)
    found["edges"] = sorted(methods)

    ops.compare_saved()
    other = versions_panel._other(scene)
    versions = extension.part("ui.shot_versions")
    found["alike"] = len(versions.compare(live.live(scene).plan, other.plan, at="FIRST"))
    glass("card D").location[2] += 0.02
    bpy.context.view_layer.update()
    found["differ"] = [
        [part.name, line.word, line.here, line.there]
        for part in versions.compare(live.live(scene).plan, other.plan, at="LAST")
        for line in part.lines
    ]
    return found


def pictures_stay_with_the_shot():
    opened(pictures_stay_with_the_shot)
    scene = bpy.context.scene
    folder = FOLDER / "pictures_stay_with_the_shot"
    making = FOLDER / "making" / "pictures"
    making.mkdir(parents=True)
    for frame in (1, 25):
        (making / f"{frame:04d}.png").write_bytes(OTHER.read_bytes())
    record = {
        "verdict": "pass",
        "pictures": {"1": "pictures/0001.png", "25": "pictures/0025.png"},
        "shot": {"levels": []},
        "measurements": [],
        "faults": [],
        "scene_error_px": [],
        "tolerance_px": 0.05,
    }
    (making.parent / "proof.json").write_text(json.dumps(record))
    said = running.poll(making.parent)
    proof_pictures.keep(folder / "shot.toml", said)
    shutil.rmtree(making.parent)
    proof_pictures.forget()
    kept = proof_pictures.kept_with(scene)
    return {
        "kept": {frame: [str(path.relative_to(folder)), path.is_file()] for frame, path in kept.items()},
        "left": [path.name for path in folder.iterdir() if path.name.startswith(".")],
    }


def art_of_a_draft_goes_away():
    """A level was added and not saved, and somebody deletes its image: told in a line; the file brings it back."""
    scene = opened(art_of_a_draft_goes_away)
    add_an_image()
    art = FOLDER / "art_of_a_draft_goes_away" / "art" / "other.png"
    art.rename(art.with_suffix(".away"))
    live.forget(scene)
    found = {"gone": live.live(scene) is None, "said": live.trouble(scene), "save": refused(ops.save_shot)}
    art.with_suffix(".away").rename(art)
    live.forget(scene)
    return found | {"back": live.live(scene).trouble}


def lines_are_broken_by_their_width():
    import blf

    shown, found = extension.part("ui.shown_words"), []
    texts = [
        "short",
        "the art of the level ends here " * 4,
        "/a/long/path/that/no/line/of/the/sidebar/takes/shot.toml:7: law",
    ]
    for width, scale in ((200, 1.0), (292, 1.0), (450, 1.5), (1200, 2.0)):
        room = shown.Room(width, width / scale, scale)
        for text in texts:
            lines = room.lines(text, icon=True)
            blf.size(0, 11 * scale)
            widest = max(blf.dimensions(0, line)[0] for line in lines)
            whole = "".join(lines).replace(" ", "") == text.replace(" ", "")
            found.append([whole, widest <= width - (shown.BORDER_PT + shown.ICON_PT) * scale, len(lines)])
    return found


OTHERS = [
    lines_are_broken_by_their_width,
    art_of_a_draft_goes_away,
    refusals,
    beside_the_stack,
    pictures_stay_with_the_shot,
]
chosen = sys.argv[2:] or [action.__name__ for action in ACTIONS]
answers = {}
for action in ACTIONS:
    if action.__name__ in chosen:
        files = {p: p.read_bytes() for p in (FOLDER / action.__name__).rglob("*") if p.is_file()}
        answers[action.__name__] = one(action)
        for path, data in files.items():
            path.write_bytes(data)
        answers[action.__name__]["again"] = and_undone_behind_the_save(action)
for other in OTHERS:
    if not sys.argv[2:] or other.__name__ in chosen:
        answers[other.__name__] = other()
answer(answers)  # type: ignore[name-defined]  # noqa: F821
