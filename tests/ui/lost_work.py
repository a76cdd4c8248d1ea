# SPDX-License-Identifier: GPL-3.0-or-later
"""Inside Blender: the ways in which work was lost, each gone through to its end. ``lost_work.py FOLDER``.

FOLDER holds line-up/, and room for copies of it.
"""

import shutil
import sys
from pathlib import Path

import bpy
import numpy as np

from ui import extension

extension.enable()

from ui import edit_kinds, edit_trips  # noqa: E402  they ask for parts of the add-on
from ui.edit_kinds import glass, key  # noqa: E402
from ui.edit_trips import files, planned  # noqa: E402
from ui.extension import refused  # noqa: E402

live = extension.part("ui.live_stack")
resting = extension.part("ui.read_at_rest")
saving = extension.part("ui.save_scene")
snapshots = extension.part("ui.shot_snapshots")
watching = extension.part("ui.watch_changes")
proof_age = extension.part("ui.proof_age")
laws = extension.part("plan.motion_laws")
hold = extension.part("stage.hold_size")
FOLDER = Path(sys.argv[1])


def opened(name):
    extension.empty()
    folder = FOLDER / name
    shutil.copytree(FOLDER / "line-up", folder)
    bpy.ops.underglass.open_shot(filepath=str(folder / "shot.toml"))
    return bpy.context.scene, folder


def two_scenes_of_one_shot():
    first, folder = opened("two scenes")
    second = bpy.data.scenes.new("second")
    with bpy.context.temp_override(scene=second):
        bpy.ops.underglass.open_shot(filepath=str(folder / "shot.toml"))
    mine, theirs = (live.glass_of(scene, "card D") for scene in (first, second))
    mine.location[0], theirs.location[0] = 0.01, 0.02
    saved = refused(bpy.ops.underglass.save_shot)
    after = files(folder)
    watching.look_at_files()
    noticed = [watching.is_changed_on_disk(scene) for scene in (first, second)]
    with bpy.context.temp_override(scene=second):
        said = refused(bpy.ops.underglass.save_shot)
    return {"saved": saved, "said": said, "untouched": files(folder) == after, "noticed": noticed}


def open_asks():
    _, folder = opened("asks")
    glass("card D").location[0] += 0.01
    other = str(FOLDER / "line-up" / "shot.toml")
    said = refused(bpy.ops.underglass.open_shot, filepath=other)
    stays = round(glass("card D").location[0], 6)
    art = refused(bpy.ops.underglass.new_from_art, filepath=str(folder / "art" / "card_a.png"))
    aside = refused(bpy.ops.underglass.open_shot, filepath=other, drop_unsaved=True)
    # what is saved may be replaced without a word
    again = refused(bpy.ops.underglass.open_shot, filepath=str(folder / "shot.toml"))
    return {"said": said, "stays": stays, "art": art, "dropped": aside, "saved": again}


def the_folder_is_moved():
    _, folder = opened("moves")
    blend, place = folder / "stack.blend", FOLDER / "moved"
    bpy.ops.wm.save_as_mainfile(filepath=str(blend), relative_remap=True)
    folder.rename(place)
    bpy.ops.wm.open_mainfile(filepath=str(place / "stack.blend"))
    scene = bpy.context.scene
    now = live.live(scene)
    there = now is not None
    glass("card D").location[0] += 0.01
    saved = refused(bpy.ops.underglass.save_shot)
    return {"there": there, "saved": saved, "said": scene.underglass.message, "file": scene.underglass.shot_file}


def a_deleted_level_comes_back_with_all_that_was_said_of_it():
    _, folder = opened("comes back")
    shot = folder / "shot.toml"
    shot.write_text(shot.read_text().replace('name = "heron"', 'name = "heron"   # the old one'))
    bpy.ops.underglass.reload_shot()
    before = files(folder)
    edit_trips.push("before")
    bpy.data.objects.remove(glass("heron"))
    edit_trips.push("deleted")
    said = list(resting.settle(bpy.context.scene).unsaved)
    bpy.ops.underglass.save_shot()
    edit_trips.push("saved")
    without = files(folder)
    edit_trips.undone(2)
    scene = bpy.context.scene
    shown = list(resting.settle(scene).unsaved)
    back = refused(bpy.ops.underglass.save_shot)
    return {
        "said": said,
        "without": "heron" in without["shot.toml"],
        "shown": shown,
        "back": back,
        "same": files(folder) == before,
    }


def the_lock_refuses_to_make_levels_meet():
    scene, _ = opened("lock")
    # the rearmost is near the bed: to hold its size it would go beneath
    beneath = refused(bpy.ops.underglass.hold_size, level="card D")
    # 120 mm of truck, and 100 mm to the next glass
    glass("heron").location[2] = 0.80
    bpy.context.view_layer.update()
    meets = refused(bpy.ops.underglass.hold_size, level="heron")
    names = live.live(scene).plan.names
    held = [name for name in names if hold.is_held(glass(name))]
    at = [round(glass(name).location[2], 6) for name in ("heron", "card D")]
    return {
        "beneath": beneath,
        "meets": meets,
        "held": held,
        "at": at,
        "alive": len(names),
        "frame": scene.frame_current,
    }


def the_lock_holds_the_first_frame():
    scene, _ = opened("lock first")
    glass("card D").location[2] = 0.25
    scene.frame_set(25)
    first = live.live(scene).plan.size_px[0, 4]
    bpy.ops.underglass.hold_size(level="card D")
    bpy.context.view_layer.update()
    sizes = live.live(scene).plan.size_px[:, 4]
    return {"first": float(first), "sizes": [float(sizes.min()), float(sizes.max())], "said": scene.underglass.message}


def what_cannot_be_saved_is_kept_beside():
    _, folder = opened("beside")
    before = files(folder)
    edit_kinds.levels_that_cross_on_the_way()
    refusal = refused(bpy.ops.underglass.save_shot)
    crossing = refused(bpy.ops.underglass.save_copy, name="levels that cross")
    glass("card A").rotation_euler[0] = 0.1
    tilted = refused(bpy.ops.underglass.save_copy, name="tilted")
    taken = refused(bpy.ops.underglass.save_copy, name="tilted")
    bad = refused(bpy.ops.underglass.save_copy, name="../away")
    there = {path.name for path in folder.iterdir() if path.is_file()}
    toml = (folder / "levels that cross.toml").read_text()
    bpy.ops.wm.open_mainfile(filepath=str(folder / "tilted.blend"))
    return {
        "refusal": refusal,
        "crossing": crossing,
        "tilted": tilted,
        "taken": taken,
        "bad": bad,
        "there": sorted(there - set(before)),
        "untouched": {name: text for name, text in files(folder).items() if name in before} == before,
        "names": 'schedule = "levels that cross schedule.csv"' in toml,
        "leans": round(glass("card A").rotation_euler[0], 6),
    }


def another_range():
    scene, folder = opened("range")
    before = files(folder)
    scene.frame_start, scene.frame_end = 101, 148
    said = refused(bpy.ops.underglass.save_shot)
    untouched = files(folder) == before
    offers = list(resting.settle(scene).offers)
    shifted = refused(bpy.ops.underglass.shift_moves)
    saved = refused(bpy.ops.underglass.save_shot)
    rows = files(folder)["schedule.csv"].splitlines()
    drawings = files(folder)["drawings.csv"].splitlines()
    scene, other = opened("range cut")
    scene.frame_start, scene.frame_end = 1, 4
    short = refused(bpy.ops.underglass.save_shot)
    cut = refused(bpy.ops.underglass.save_without)
    return {
        "said": said,
        "untouched": untouched,
        "offers": offers,
        "shifted": shifted,
        "saved": saved,
        "rows": rows,
        "drawings": drawings,
        "cut": [short, cut, files(other)["schedule.csv"].splitlines(), planned(other / "shot.toml")],
    }


def a_proof_and_what_came_after():
    scene, _ = opened("proof")
    clean = proof_age.proved_now(scene)
    fresh = proof_age.notes(scene, clean)
    glass("card D").location[0] += 0.01
    bpy.context.view_layer.update()
    changed = proof_age.notes(scene, clean)
    unsaved = proof_age.proved_now(scene)
    of_unsaved = proof_age.notes(scene, unsaved)
    bpy.ops.underglass.save_shot()
    return {
        "fresh": fresh,
        "changed": changed,
        "of_unsaved": of_unsaved,
        "saved": proof_age.notes(scene, unsaved),
        "new": proof_age.notes(scene, proof_age.proved_now(scene)),
    }


def bezier_beside_blenders_own_curve():
    extension.empty()
    obj, apart = bpy.data.objects.new("thing", None), []
    bpy.context.scene.collection.objects.link(obj)
    for span, handles in ((24, None), (47, (20.0, 3.0)), (100, (0.5, 60.0)), (13, (6.0, 7.0))):
        obj.animation_data_clear()
        key(obj, "location", 0, [(1, 0.25), (1 + span, 1.5)])
        curve = edit_kinds.curve_of(obj, "location", 0)
        first, last = curve.keyframe_points
        if handles:
            first.handle_right_type = last.handle_left_type = "FREE"
            first.handle_right = (first.co[0] + handles[0], first.co[1])
            last.handle_left = (last.co[0] - handles[1], last.co[1])
            curve.update()
        slow_out, slow_in = handles or (span / 3, span / 3)
        options = {"span": span, "start": 0.25, "end": 1.5, "slow_out": slow_out, "slow_in": slow_in}
        track = laws.bezier(np.arange(span + 1), **options)
        theirs = [curve.evaluate(1 + step) for step in range(span + 1)]
        apart.append(float(np.abs(track - theirs).max()))
    return apart


def what_the_lens_fields_refuse():
    scene, _ = opened("fields")
    fields = scene.underglass_lens
    before = [round(fields.focal_mm, 4), str(fields.focus)]
    fields.focal_mm = 900.0
    said, error = scene.underglass.message, scene.underglass.is_error
    after = [round(fields.focal_mm, 4), str(fields.focus)]
    fields.focal_mm = 35.0
    frames = []
    for frame in (1, 13, 25):
        scene.frame_set(frame)
        u = live.live(scene).plan.focus_distance[frame - 1]
        frames.append([round(fields.focal_mm, 4), scene.camera.data.lens, 35.0 * u / (u - 0.035)])
    return {"before": before, "said": said, "error": error, "after": after, "frames": frames}


SCENARIOS = [
    two_scenes_of_one_shot,
    open_asks,
    the_folder_is_moved,
    a_deleted_level_comes_back_with_all_that_was_said_of_it,
    the_lock_refuses_to_make_levels_meet,
    the_lock_holds_the_first_frame,
    what_cannot_be_saved_is_kept_beside,
    another_range,
    a_proof_and_what_came_after,
    bezier_beside_blenders_own_curve,
    what_the_lens_fields_refuse,
]
answer({scenario.__name__: scenario() for scenario in SCENARIOS})  # type: ignore[name-defined]  # noqa: F821
