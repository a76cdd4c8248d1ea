# SPDX-License-Identifier: GPL-3.0-or-later
"""Inside Blender: what stays as it was said while other things change, and what Save says. ``what_holds.py FOLDER``.

FOLDER holds line-up/, and room for copies of it. Names of scenarios may follow.
"""

import shutil
import sys
import time
import traceback
from pathlib import Path

import bpy
import numpy as np

from ui import extension

extension.enable()

from ui.edit_kinds import curve_of, glass, key  # noqa: E402  they ask for parts of the add-on
from ui.extension import refused  # noqa: E402

live = extension.part("ui.live_stack")
resting = extension.part("ui.read_at_rest")
hold = extension.part("stage.hold_size")
typed = extension.part("ui.typed_lens")
lens_fields = extension.part("ui.lens_fields")
materials = extension.part("stage.materials")
looking = extension.part("ui.scene_remarks")
planning = extension.part("plan")
shots = extension.part("shot.files")
PLANNERS = [(extension.part(f"ui.{name}"), "make_plan") for name in ("save_scene", "live_stack", "shot_and_scene")]
FOLDER = Path(sys.argv[1])
ART = FOLDER / "line-up" / "art"
ops = bpy.ops.underglass
# What reading sets off in Blender by itself is over by then, s.
ECHO_S = 0.15
# So high that the bed is not in the way of the rearmost card.
HELD_FROM = 0.25


def opened(name):
    extension.empty()
    folder = FOLDER / name
    shutil.copytree(FOLDER / "line-up", folder)
    ops.open_shot(filepath=str(folder / "shot.toml"))
    return bpy.context.scene, folder


def spread(folder, level="card D"):
    """Return by how much the size of a level changes in the files of a shot, as a share."""
    plan = planning.make_plan(shots.read_shot(folder / "shot.toml"))
    sizes = plan.size_px[:, plan.names.index(level)]
    return float(np.ptp(sizes) / sizes[0])


def two_actions_on_a_chart():
    scene, folder = opened("chart")
    unruly = np.random.default_rng(7).uniform(0.0, 0.03, 25)
    key(glass("heron"), "location", 1, list(enumerate(unruly.tolist(), start=1)))
    ops.save_shot()
    found = {"chart": (folder / "chart.csv").is_file(), "said": []}
    ops.show_level(level="card C")
    for action in (
        ops.duplicate_level,
        lambda: ops.rename_level(name="another"),
        lambda: ops.add_card(name="mist"),
        lambda: ops.set_units(units="cm"),
    ):
        found["said"].append(refused(action))
    found["saved"] = refused(ops.save_shot)
    now = live.live(scene)
    found["rows"] = [(line.title, line.law) for line in now.words.charted]
    return found


def held_on(name):
    scene, folder = opened(name)
    scene.frame_set(1)
    glass("card D").location[2] = HELD_FROM
    bpy.context.view_layer.update()
    ops.hold_size(level="card D")
    bpy.context.view_layer.update()
    return scene, folder


def truck_to(height):
    scene = bpy.context.scene
    scene.frame_set(25)
    key(scene.camera, "location", 2, [(25, height)])
    bpy.context.view_layer.update()
    scene.frame_set(1)
    bpy.context.view_layer.update()


def is_held():
    return hold.is_held(glass("card D"))


def held_while_the_lens_changes():
    scene, folder = held_on("lens")
    ops.save_shot()
    before = spread(folder)
    scene.underglass_lens.focal_mm = 40.0
    bpy.context.view_layer.update()
    first = glass("card D").location[2]
    ops.save_shot()
    return {"before": before, "after": spread(folder), "held": is_held(), "first": first}


def held_while_lens_camera_and_focus_change():
    scene, folder = held_on("all")
    scene.underglass_lens.focal_mm = 35.0
    bpy.context.view_layer.update()
    truck_to(1.14)
    scene.underglass_lens.focus = "card C"
    bpy.context.view_layer.update()
    ops.save_shot()
    return {"said": scene.underglass.message, "spread": spread(folder), "held": is_held()}


def held_where_there_is_no_room():
    """The truck goes so deep that the held level would be beneath the bed: its sign goes out, and that is said."""
    scene, _ = held_on("no room")
    truck_to(1.07)
    return {"held": is_held(), "said": scene.underglass.message}


def held_over_reload():
    scene, folder = held_on("reload")
    ops.save_shot()
    ops.reload_shot()
    found = {"held": is_held(), "said": scene.underglass.message}
    path = folder / "shot.toml"
    rows = (folder / "schedule.csv").read_text().splitlines()
    (folder / "schedule.csv").write_text("\n".join(row for row in rows if not row.startswith("card D")) + "\n")
    chart = folder / "chart.csv"
    if chart.is_file():
        chart.unlink()
        path.write_text("\n".join(line for line in path.read_text().splitlines() if "chart" not in line) + "\n")
    ops.reload_shot()
    return found | {"after": is_held(), "lost": scene.underglass.message}


def cut_by_the_frames():
    sheet = FOLDER / "line-up" / "schedule.csv"
    text = sheet.read_text()
    sheet.write_text(text.replace("15,steady,4,4", "15,bezier,,"))
    scene, _ = opened("cut")
    sheet.write_text(text)
    said = []
    scene.frame_start, scene.frame_end = 7, 25
    bpy.context.view_layer.update()
    remarks = resting.settle(scene).remarks
    said.append(refused(ops.save_shot) or scene.underglass.message)
    return {"said": said, "remarks": list(remarks), "rows": [line.title for line in live.live(scene).words.charted]}


def saved_without_a_move():
    scene, _ = opened("without")
    scene.frame_end = 4
    bpy.context.view_layer.update()
    refusal = refused(ops.save_shot)
    ops.save_without()
    return {"refusal": refusal, "said": scene.underglass.message}


def blenders_own_lens():
    scene, folder = opened("own lens")
    camera = scene.camera
    scene.frame_set(1)
    bpy.context.view_layer.update()
    calm = looking.own_lens(scene)
    camera.data.lens = 35.0
    bpy.context.view_layer.update()
    told = typed.lines(scene)
    ops.save_shot()
    return {"calm": calm, "told": told, "said": scene.underglass.message, "toml": (folder / "shot.toml").read_text()}


def blenders_own_lens_without_keys():
    shot_file = FOLDER / "line-up" / "shot.toml"
    text = shot_file.read_text()
    shot_file.write_text(text.replace('focus = "card B"', "focus = 600.0"))
    scene, folder = opened("no keys")
    shot_file.write_text(text)
    scene.camera.data.lens = 35.0
    bpy.context.view_layer.update()
    ops.save_shot()
    return {"said": scene.underglass.message, "toml": (folder / "shot.toml").read_text()}


def through_another_camera():
    scene, _ = opened("another")
    other = bpy.data.objects.new("other", bpy.data.cameras.new("other"))
    scene.collection.objects.link(other)
    scene.camera = other
    bpy.context.view_layer.update()
    return {"told": looking.other_camera(scene)}


def undone_past_a_save():
    scene, _ = opened("undone")
    bpy.ops.ed.undo_push(message="opened")
    glass("card D").location[0] += 0.01
    bpy.context.view_layer.update()
    bpy.ops.ed.undo_push(message="moved")
    ops.save_shot()
    saved = looking.message(bpy.context.scene)
    glass("card D").location[0] += 0.01
    bpy.context.view_layer.update()
    scene = bpy.context.scene
    return {"saved": saved, "after": looking.message(scene), "unsaved": list(live.live(scene).unsaved)}


def the_folder_goes_elsewhere_with_unsaved_work():
    scene, folder = opened("goes")
    glass("card D").location[0] += 0.01
    bpy.context.view_layer.update()
    place = FOLDER / "gone elsewhere"
    folder.rename(place)
    live.forget()
    elsewhere = refused(ops.save_shot_elsewhere, directory=str(FOLDER / "third"))
    reloaded = refused(ops.reload_shot)
    said = refused(ops.save_shot)
    linked = refused(ops.open_shot, filepath=str(place / "shot.toml"))
    told = scene.underglass.message
    kept = round(glass("card D").location[0], 6)
    saved = refused(ops.save_shot)
    return {
        "said": [said, elsewhere, reloaded],
        "linked": linked,
        "told": told,
        "kept": kept,
        "saved": saved,
        "what": scene.underglass.message,
        "file": scene.underglass.shot_file,
    }


def images():
    return [image for name in live.live(bpy.context.scene).plan.names for image in materials.images(glass(name))]


def moved_with_its_art_found(name, *, by="files"):
    """Open a shot, edit it, move its folder, and have the images found again: in it, elsewhere, or packed."""
    scene, folder = opened(name)
    glass("card D").location[0] += 0.01
    bpy.context.view_layer.update()
    place = FOLDER / f"{name} now"
    if by == "packed":
        for image in images():
            image.pack()
    if by == "art alone":
        shutil.copytree(folder / "art", place)
        shutil.rmtree(folder)
    else:
        folder.rename(place)
    for image in images() if by != "packed" else ():
        found = Path(bpy.path.abspath(image.filepath)).name
        image.filepath = str(place / found if by == "art alone" else place / "art" / found)
    return scene, place


def saved_elsewhere(name, **options):
    scene, _ = moved_with_its_art_found(name, **options)
    there = FOLDER / f"{name} elsewhere"
    refusal = refused(ops.save_shot_elsewhere, directory=str(there))
    shot = shots.read_shot(there / "shot.toml") if not refusal else None
    art = sorted(path.name for path in (there / "art").iterdir()) if shot else []
    shown = {str(Path(bpy.path.abspath(image.filepath)).parent.parent.name) for image in images()}
    return {
        "refusal": refusal,
        "east": shot and shot.levels[-1].east,
        "art": art,
        "bytes": [path.read_bytes() == (there / "art" / path.name).read_bytes() for path in ART.iterdir() if art],
        "shown": sorted(shown),
        "file": scene.underglass.shot_file == str(there / "shot.toml"),
        "unsaved": list(resting.settle(scene).unsaved),
    }


def elsewhere_after_the_folder_was_moved():
    return saved_elsewhere("moved")


def elsewhere_where_only_the_art_is_left():
    return saved_elsewhere("art left", by="art alone")


def elsewhere_with_packed_art():
    return saved_elsewhere("packed", by="packed")


def saved_where_the_folder_is_now():
    scene, place = moved_with_its_art_found("in place")
    trouble = resting.settle(scene).trouble
    refusal = refused(ops.save_shot)
    return {
        "trouble": trouble,
        "refusal": refusal,
        "east": shots.read_shot(place / "shot.toml").levels[-1].east,
        "file": scene.underglass.shot_file == str(place / "shot.toml"),
    }


def rested():
    bpy.context.view_layer.update()
    now = resting.settle(bpy.context.scene)
    whole = list(now.whole) if now.whole else None
    return {"offers": list(now.offers), "whole": whole, "remarks": list(now.remarks), "unsaved": list(now.unsaved)}


def frames_that_leave_moves_out_are_given_back():
    scene, folder = opened("given back")
    before = (folder / "schedule.csv").read_text()
    scene.frame_end = 4
    found = {"short": rested() | {"said": refused(ops.save_shot)}}
    ops.give_back_frames()
    found["back"] = rested() | {"frames": [scene.frame_start, scene.frame_end], "trouble": live.live(scene).trouble}
    found["again"] = refused(ops.give_back_frames)
    scene.frame_start, scene.frame_end = 101, 125
    found["later"] = rested() | {"said": refused(ops.save_shot)}
    ops.give_back_frames()
    found["saved"] = [refused(ops.save_shot), scene.underglass.message]
    found["same"] = (folder / "schedule.csv").read_text() == before
    return found


def frames_that_cut_moves_are_given_back():
    scene, _ = opened("cut and back")
    scene.frame_start, scene.frame_end = 7, 12
    found = {"cut": rested()}
    ops.give_back_frames()
    return found | {"frames": [scene.frame_start, scene.frame_end], "back": rested()}


def a_lens_that_was_said_goes_along():
    scene, folder = opened("lens along")
    scene.underglass_lens.focal_mm = 35.0
    scene.frame_start, scene.frame_end = 101, 125
    ops.shift_moves()
    bpy.context.view_layer.update()
    shown = round(scene.underglass_lens.focal_mm, 4), str(scene.underglass_lens.focus)
    ops.save_shot()
    return {"shown": shown, "said": scene.underglass.message, "toml": (folder / "shot.toml").read_text()}


def keys_between_frames():
    scene, folder = opened("between")
    key(glass("card D"), "location", 0, [(3.4, 0.0), (20.6, 0.01)])
    found = {"between": rested()}
    ops.save_shot()
    found |= {"said": scene.underglass.message, "chart": (folder / "chart.csv").is_file()}
    ops.keys_to_whole_frames()
    found["told"] = scene.underglass.message
    found["after"] = rested()
    ops.save_shot()
    found["rows"] = [row for row in (folder / "schedule.csv").read_text().splitlines() if row.startswith("card D")]
    found["again"] = refused(ops.keys_to_whole_frames)
    key(glass("card D"), "location", 1, [(4.6, 0.5), (5.0, 0.0), (5.2, 0.25), (9.0, 0.125)])
    ops.keys_to_whole_frames()
    curve = curve_of(glass("card D"), "location", 1)
    return found | {"met": [[*point.co] for point in curve.keyframe_points]}


def tree_of(name):
    return glass(name).data.materials[0].node_tree


def keys_on_materials():
    scene, _ = opened("materials")
    found = {"calm": rested()["remarks"]}
    strength = next(node for node in tree_of("card C").nodes if node.type == "EMISSION").inputs["Strength"]
    for frame in (1, 25):
        strength.keyframe_insert("default_value", frame=frame)
    glass("card D").data.materials[0].keyframe_insert("pass_index", frame=1)
    found["keyed"] = rested()
    time.sleep(ECHO_S)
    group = bpy.data.node_groups.new("glow", "ShaderNodeTree")
    node = tree_of("card C").nodes.new("ShaderNodeGroup")
    node.node_tree = group
    bpy.context.view_layer.update()
    resting.settle(scene)
    time.sleep(ECHO_S)
    gamma = group.nodes.new("ShaderNodeGamma")
    gamma.inputs["Gamma"].driver_add("default_value").driver.expression = "1+frame*0.1"
    bpy.context.view_layer.update()
    found |= {"noticed": not live.live(scene).settled, "driven": rested()["remarks"]}
    glass("card D").location[0] += 0.01
    bpy.context.view_layer.update()
    ops.save_shot()
    return found | {"said": scene.underglass.message}


def typed_over_keys():
    scene, _ = opened("typed")
    camera, fields = scene.camera.data, scene.underglass_lens
    scene.frame_set(12)
    bpy.context.view_layer.update()
    found = {"calm": typed.lines(scene)}
    camera.lens = 35.0
    bpy.context.view_layer.update()
    found["here"] = [*typed.lines(scene), looking.own_lens(scene)]
    scene.frame_set(20)
    bpy.context.view_layer.update()
    found["elsewhere"] = [*typed.lines(scene), looking.own_lens(scene)]
    found["remarks"] = rested()["remarks"]
    ops.use_typed_lens(path="lens")
    bpy.context.view_layer.update()
    found["used"] = [round(fields.focal_mm, 4), str(fields.focus), *typed.lines(scene), looking.own_lens(scene)]
    camera.dof.aperture_fstop = 8.0
    bpy.context.view_layer.update()
    scene.frame_set(3)
    found["stop"] = typed.lines(scene)
    ops.leave_typed_lens(path="dof.aperture_fstop")
    found["left"] = [round(fields.f_stop, 4), *typed.lines(scene)]
    camera.dof.focus_distance = 0.5
    bpy.context.view_layer.update()
    scene.frame_set(5)
    found["distance"] = typed.lines(scene)
    ops.use_typed_lens(path="dof.focus_distance")
    found["at"] = [fields.focus == lens_fields.AT_A_DISTANCE, round(fields.distance, 3), *typed.lines(scene)]
    scene, _ = opened("typed and saved")
    scene.camera.data.lens = 40.0
    bpy.context.view_layer.update()
    scene.frame_set(5)
    ops.save_shot()
    found["saved"] = [scene.underglass.message, *typed.lines(scene), *rested()["remarks"]]
    # keyed where it stands it is a key as any other
    scene.camera.data.lens = 40.0
    scene.camera.data.keyframe_insert("lens", frame=5)
    bpy.context.view_layer.update()
    return found | {"keyed": typed.lines(scene)}


def counted(module, name, calls):
    """Have every call of a function of ``module`` counted in ``calls``."""
    function = getattr(module, name)

    def counting(*arguments, **options):
        calls.append(name)
        return function(*arguments, **options)

    setattr(module, name, counting)
    return function


def one_save_plans_once():
    scene, folder = opened("once")
    glass("card D").location[0] += 0.01
    bpy.context.view_layer.update()
    # the panels have asked already
    live.live(scene)
    calls, amending = [], extension.part("shot.files.save")
    kept = [(module, name, counted(module, name, calls)) for module, name in ((amending, "amend_shot"), *PLANNERS)]
    try:
        ops.save_shot()
    finally:
        for module, name, function in kept:
            setattr(module, name, function)
    now = live.live(scene)
    # what is kept is what the files say, with the places in them
    read = shots.read_shot(folder / "shot.toml")
    base, plan = live.shot_and_plan(scene)
    return {
        "calls": sorted(calls),
        "said": scene.underglass.message,
        "unsaved": list(now.unsaved),
        "same": base == read and base.places == read.places and plan.shot == read,
    }


SCENARIOS = [
    typed_over_keys,
    keys_on_materials,
    elsewhere_after_the_folder_was_moved,
    elsewhere_where_only_the_art_is_left,
    elsewhere_with_packed_art,
    saved_where_the_folder_is_now,
    frames_that_leave_moves_out_are_given_back,
    frames_that_cut_moves_are_given_back,
    a_lens_that_was_said_goes_along,
    keys_between_frames,
    two_actions_on_a_chart,
    held_while_the_lens_changes,
    held_while_lens_camera_and_focus_change,
    held_where_there_is_no_room,
    held_over_reload,
    cut_by_the_frames,
    saved_without_a_move,
    blenders_own_lens,
    blenders_own_lens_without_keys,
    through_another_camera,
    undone_past_a_save,
    the_folder_goes_elsewhere_with_unsaved_work,
    one_save_plans_once,
]


def outcome(scenario):
    try:
        return scenario()
    except Exception as error:
        traceback.print_exc()
        return {"error": repr(error)}


chosen = sys.argv[2:]
answer(  # type: ignore[name-defined]  # noqa: F821
    {one.__name__: outcome(one) for one in SCENARIOS if not chosen or one.__name__ in chosen}
)
