# SPDX-License-Identifier: GPL-3.0-or-later
"""Inside Blender: what every operator does, and what it leaves alone, with no window. ``operators.py FOLDER``.

FOLDER holds shot/ (the line-up), layers/ (three images), and an empty folder out/.
"""

import sys
from pathlib import Path

import bpy

from ui import extension
from ui.extension import refused

extension.enable()
live = extension.part("ui.live_stack")
watching = extension.part("ui.watch_changes")
compat = extension.part("blender_versions")
hold = extension.part("stage.hold_size")
FOLDER = Path(sys.argv[1])
SHOT = FOLDER / "shot" / "shot.toml"
# Where the rearmost card is to begin so that the bed is not in its way: it goes down as the camera does.
HELD_FROM = 0.25


def opened():
    extension.empty()
    bpy.ops.underglass.open_shot(filepath=str(SHOT))
    return bpy.context.scene


def glass(name):
    return live.glass_of(bpy.context.scene, name)


def census():
    return {kind: len(getattr(bpy.data, kind)) for kind in ("objects", "meshes", "materials", "images", "actions")}


def undo_and_redo():
    extension.empty()
    bpy.ops.ed.undo_push(message="empty")
    bpy.ops.underglass.open_shot(filepath=str(SHOT))
    bpy.ops.ed.undo_push(message="open")
    there = census()
    bpy.ops.ed.undo()
    undone = census(), bpy.context.scene.underglass.shot_file, live.live(bpy.context.scene) is None
    bpy.ops.ed.redo()
    scene = bpy.context.scene
    now = live.live(scene)
    redone = census(), scene.underglass.shot_file, now is not None and now.unsaved
    glass("card D").location[2] = HELD_FROM
    bpy.ops.underglass.hold_size(level="card D")
    bpy.ops.ed.undo_push(message="hold")
    held = hold.is_held(glass("card D"))
    bpy.ops.ed.undo()
    return {
        "there": there,
        "undone": undone,
        "redone": redone,
        "held": [held, hold.is_held(glass("card D"))],
    }


def saved_and_reopened():
    scene = opened()
    glass("card D").location[2] += 0.01
    place = FOLDER / "out" / "stack.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(place))
    bpy.ops.wm.open_mainfile(filepath=str(place))
    scene = bpy.context.scene
    now = live.live(scene)
    return {"file": scene.underglass.shot_file, "unsaved": now.unsaved, "levels": now.plan.names}


def two_scenes():
    first = opened()
    before = [obj.name for obj in first.objects]
    second = bpy.data.scenes.new("second")
    with bpy.context.temp_override(scene=second):
        bpy.ops.underglass.open_shot(filepath=str(SHOT))
    glass_there = next(obj for obj in second.objects if obj.type == "MESH" and obj.animation_data is None)
    glass_there.location[0] += 0.01
    second.view_layers[0].update()
    return {
        "first": [obj.name for obj in first.objects] == before,
        "both": [len(first.objects), len(second.objects)],
        "apart": [bool(live.live(scene).unsaved) for scene in (first, second)],
        "cameras": first.camera is not second.camera,
    }


def what_was_there_is_left_alone():
    extension.empty()
    scene = bpy.context.scene
    scene.unit_settings.system, scene.unit_settings.scale_length = "IMPERIAL", 0.01
    camera = bpy.data.objects.new("stand camera", bpy.data.cameras.new("mine"))
    cube = bpy.data.objects.new("card A", bpy.data.meshes.new("cube"))
    for obj in (camera, cube):
        scene.collection.objects.link(obj)
        for frame, place in ((1, 0.0), (10, 3.0)):
            obj.location[0] = place
            obj.keyframe_insert("location", index=0, frame=frame)
    scene.camera = camera
    bpy.ops.underglass.open_shot(filepath=str(SHOT))
    now = live.live(scene)
    keys = {
        obj.name: [list(key.co) for curve in compat.fcurves_of(obj) for key in curve.keyframe_points]
        for obj in (camera, cube)
    }
    bpy.ops.underglass.save_shot()
    return {
        "keys": keys,
        "units": [scene.unit_settings.system, round(scene.unit_settings.scale_length, 6)],
        "height": glass("card D").location[2],
        "unsaved": now.unsaved,
        "said": scene.underglass.message,
    }


def linked_from_a_library():
    scene = opened()
    place = FOLDER / "out" / "library.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(place))
    name = next(collection.name for collection in scene.collection.children)
    extension.empty()
    with bpy.data.libraries.load(str(place), link=True) as (there, here):
        here.collections = [name]
        here.scenes = list(there.scenes)[:1]
    scene = bpy.context.scene
    scene.collection.children.link(here.collections[0])
    said = refused(bpy.ops.underglass.open_shot, filepath=str(SHOT))
    with bpy.context.temp_override(scene=here.scenes[0]):
        foreign = bpy.ops.underglass.open_shot.poll()
    return {"said": said, "foreign": foreign, "stack": len(scene.objects), "shot": scene.underglass.shot_file}


def live_as_it_is_dragged():
    scene = opened()
    scene.frame_set(10)
    before = live.live(scene)
    still, keyed = glass("card D"), glass("card A")
    still.location[2] += 0.02
    keyed.location[0] += 0.01
    bpy.context.view_layer.update()
    now = live.live(scene)
    row = live.row_of(now.plan, 10)
    column = now.plan.names.index("card D")
    scene.frame_set(11)
    later = live.live(scene)
    return {
        "grew": float(now.plan.size_px[row, column] / before.plan.size_px[row, column]),
        "expected": float(before.plan.distance[row, column] / (before.plan.distance[row, column] - 0.02)),
        "by_hand": float(now.plan.tracks.levels["east"][row, 0] - before.plan.tracks.levels["east"][row, 0]),
        "after": float(later.plan.tracks.levels["east"][row, 0] - before.plan.tracks.levels["east"][row, 0]),
        "unsaved": later.unsaved,
        "same_until_touched": live.live(scene) is later,
    }


def held_while_the_camera_trucks():
    scene = opened()
    scene.frame_set(1)
    glass("card D").location[2] = HELD_FROM
    bpy.ops.underglass.hold_size(level="card D")
    bpy.context.view_layer.update()
    sizes = live.live(scene).plan.size_px[:, 4]
    spread = float(sizes.max() - sizes.min())
    for curve in compat.fcurves_of(scene.camera):
        if curve.array_index == 2 and curve.data_path == "location":
            for key in curve.keyframe_points:
                key.co[1] = 1.3 + (key.co[1] - 1.3) * 0.5
            curve.update()
    scene.camera.update_tag()
    bpy.context.view_layer.update()
    bpy.context.view_layer.update()
    again = live.live(scene).plan.size_px[:, 4]
    bpy.ops.underglass.hold_size(level="card D")
    return {
        "size": float(sizes[0]),
        "spread": spread,
        "spread_after": float(again.max() - again.min()),
        "kept": float(abs(again[0] - sizes[0])),
        "let_go": not hold.is_held(glass("card D")),
        "keys_stay": len(compat.fcurves_of(glass("card D"))),
    }


def shown_level_and_frame():
    scene = opened()
    bpy.ops.underglass.show_level(level="card B", frame=7)
    first = [scene.frame_current, [obj.name for obj in bpy.context.selected_objects]]
    bpy.ops.underglass.show_level(level="camera")
    return {
        "first": first,
        "camera": [obj.name for obj in bpy.context.selected_objects],
        "nobody": refused(bpy.ops.underglass.show_level, level="nobody"),
    }


def changed_on_disk():
    scene = opened()
    text = SHOT.read_text()
    watching.look_at_files()
    calm = watching.is_changed_on_disk(scene)
    SHOT.write_text(text + "\n# somebody else was here\n")
    watching.look_at_files()
    noticed = watching.is_changed_on_disk(scene)
    glass("card D").location[2] += 0.01
    bpy.context.view_layer.update()
    said = refused(bpy.ops.underglass.save_shot)
    untouched = SHOT.read_text() == text + "\n# somebody else was here\n"
    bpy.ops.underglass.reload_shot()
    watching.look_at_files()
    settled = watching.is_changed_on_disk(scene)
    SHOT.write_text("this is no shot = [")
    broken = refused(bpy.ops.underglass.reload_shot)
    levels = len(scene.objects)
    SHOT.write_text(text)
    return {
        "calm": calm,
        "noticed": noticed,
        "said": said,
        "untouched": untouched,
        "settled": settled,
        "broken": broken,
        "levels": levels,
        "in_panel": scene.underglass.is_error,
    }


def what_no_stand_can_do():
    scene, said = opened(), {}
    text = SHOT.read_text()
    glass("card A").rotation_euler[0] = 0.1
    said["tilted"] = refused(bpy.ops.underglass.save_shot)
    glass("card A").rotation_euler[0] = 0.0
    glass("card A").scale = (1.2, 1.0, 1.0)
    said["stretched"] = refused(bpy.ops.underglass.save_shot)
    glass("card A").scale = (1.0, 1.0, 1.0)
    scene.camera.data.shift_x = 0.1
    said["shifted"] = refused(bpy.ops.underglass.save_shot)
    scene.camera.data.shift_x = 0.0
    double = glass("card A").copy()
    scene.collection.objects.link(double)
    said["doubled"] = refused(bpy.ops.underglass.save_shot)
    bpy.data.objects.remove(double)
    scene.camera = None
    said["no camera"] = refused(bpy.ops.underglass.save_shot)
    return {**said, "untouched": SHOT.read_text() == text, "frame": scene.frame_current}


def saved_elsewhere():
    scene = opened()
    glass("card D").location[2] += 0.0254
    place = FOLDER / "out" / "elsewhere"
    place.mkdir()
    bpy.ops.underglass.save_shot_elsewhere(directory=str(place))
    now, belongs = live.live(scene), Path(scene.underglass.shot_file) == place / "shot.toml"
    again = refused(bpy.ops.underglass.save_shot_elsewhere, directory=str(place))
    beside = FOLDER / "out" / "beside"
    beside.mkdir()
    (beside / "notes.txt").write_text("mine")
    bpy.ops.underglass.save_shot_elsewhere(directory=str(beside))
    lay_there = (beside / "notes.txt").read_text(), (beside / "shot.toml").is_file()
    art = beside / "art" / "card_a.png"
    art.rename(art.with_suffix(".away"))
    gone = refused(bpy.ops.underglass.save_shot_elsewhere, directory=str(FOLDER / "out" / "third"))
    art.with_suffix(".away").rename(art)
    other = FOLDER / "out" / "other"
    (other / "art").mkdir(parents=True)
    (other / "art" / "card_a.png").write_bytes(b"my only painting")
    painting = refused(bpy.ops.underglass.save_shot_elsewhere, directory=str(other))
    return {
        "files": sorted(str(path.relative_to(place)) for path in place.rglob("*") if path.is_file()),
        "belongs": belongs,
        "beside": lay_there,
        "gone": [gone, (FOLDER / "out" / "third").exists()],
        "height": round(now.shot.levels[-1].height, 9),
        "again": again,
        "painting": [painting, (other / "art" / "card_a.png").read_bytes() == b"my only painting"],
        "left": sorted(str(path.relative_to(other)) for path in other.rglob("*") if path.is_file()),
    }


def undone_behind_a_save():
    """Saved, undone behind it, saved again: the files are this Blender's own."""
    text = SHOT.read_text()
    scene = opened()
    bpy.ops.ed.undo_push(message="opened")
    glass("card D").location[2] += 0.01
    bpy.context.view_layer.update()
    bpy.ops.ed.undo_push(message="moved")
    bpy.ops.underglass.save_shot()
    bpy.ops.ed.undo_push(message="saved")
    bpy.ops.ed.undo()
    bpy.ops.ed.undo()
    scene = bpy.context.scene
    watching.look_at_files()
    changed = watching.is_changed_on_disk(scene)
    back = refused(bpy.ops.underglass.save_shot)
    now = SHOT.read_text()
    SHOT.write_text(text)
    return {"changed": changed, "said": back, "as_it_was": now == text}


def scaled_to_nothing():
    scene = opened()
    glass("card A").scale = (0.0, 0.0, 0.0)
    bpy.context.view_layer.update()
    now = live.live(scene)
    return {"trouble": now.trouble, "levels": len(now.plan.names)}


def dragged_and_let_go_while_one_is_held():
    scene = opened()
    scene.frame_set(1)
    glass("card D").location[2] = HELD_FROM
    bpy.ops.underglass.hold_size(level="card D")
    bpy.context.view_layer.update()
    before = [list(key.co) for curve in compat.fcurves_of(glass("card D")) for key in curve.keyframe_points]
    scene.frame_set(12)
    scene.camera.location[2] += 0.1
    bpy.context.view_layer.update()
    scene.frame_set(13)
    after = [list(key.co) for curve in compat.fcurves_of(glass("card D")) for key in curve.keyframe_points]
    return {"same": before == after, "keys": len(before)}


def rounded_to_counter_steps():
    text, schedule = SHOT.read_text(), (SHOT.parent / "schedule.csv").read_text()
    SHOT.write_text(text + "\n[stand]\ncounter = 1.0\n")
    scene = opened()
    for curve in compat.fcurves_of(glass("card A")):
        for key in curve.keyframe_points:
            key.co[1] += 0.0002 * (key.co[0] % 2)
        curve.update()
    glass("card A").update_tag()
    scene.underglass.to_counter = True
    bpy.ops.underglass.save_shot()
    bpy.context.view_layer.update()
    first = scene.underglass.message
    unsaved = live.live(scene).unsaved
    bpy.ops.underglass.save_shot()
    rows = (SHOT.parent / "schedule.csv").read_text()
    SHOT.write_text(text)
    (SHOT.parent / "schedule.csv").write_text(schedule)
    return {"first": first, "unsaved": unsaved, "again": scene.underglass.message, "rows": rows}


def new_from_a_folder():
    extension.empty()
    bpy.ops.underglass.new_from_art(filepath=str(FOLDER / "layers" / "01 near.png"))
    scene = bpy.context.scene
    now = live.live(scene)
    return {
        "levels": now.plan.names,
        "said": scene.underglass.message,
        "blocks": [f.code for f in now.findings if f.severity == "block"],
    }


def greyed_out():
    extension.empty()
    names = ("save_shot", "reload_shot", "save_shot_elsewhere", "hold_size", "prove", "stop_proof")
    before = {name: getattr(bpy.ops.underglass, name).poll() for name in names}
    opened()
    return {"before": before, "after": {name: getattr(bpy.ops.underglass, name).poll() for name in names}}


def in_another_mode():
    scene = opened()
    scene.frame_set(3)
    bpy.context.view_layer.objects.active = glass("card A")
    bpy.ops.object.mode_set(mode="EDIT")
    said = refused(bpy.ops.underglass.show_level, level="card B", frame=7)
    held = bpy.ops.underglass.hold_size.poll()
    bpy.ops.object.mode_set(mode="OBJECT")
    return {"said": said, "held": held, "frame": scene.frame_current, "active": bpy.context.object.name}


def cannot_be_read():
    """Broken in an editor, and mended a while later."""
    scene, text, reads = opened(), SHOT.read_text(), []
    read = live.read_shot

    def heard(path):
        reads.append(path)
        return read(path)

    live.read_shot = heard
    live.forget()
    extension.part("ui.shot_snapshots").clear()
    SHOT.write_text("this is no shot = [")
    there = [live.live(scene) is not None for _ in range(5)]
    said = live.trouble(scene)
    watching.look_at_files()
    there.append(live.live(scene) is not None)
    tries = len(reads)
    SHOT.write_text("nor is this = [")
    watching.look_at_files()
    there.append(live.live(scene) is not None)
    SHOT.write_text(text)
    watching.look_at_files()
    mended = [live.live(scene) is not None, live.trouble(scene)]
    live.read_shot = read
    return {"there": there, "said": said, "tries": tries, "in_all": len(reads), "mended": mended}


SCENARIOS = [
    undo_and_redo,
    saved_and_reopened,
    two_scenes,
    what_was_there_is_left_alone,
    linked_from_a_library,
    live_as_it_is_dragged,
    held_while_the_camera_trucks,
    shown_level_and_frame,
    changed_on_disk,
    what_no_stand_can_do,
    saved_elsewhere,
    undone_behind_a_save,
    scaled_to_nothing,
    dragged_and_let_go_while_one_is_held,
    rounded_to_counter_steps,
    new_from_a_folder,
    greyed_out,
    in_another_mode,
    cannot_be_read,
]
answer({scenario.__name__: scenario() for scenario in SCENARIOS})  # type: ignore[name-defined]  # noqa: F821
