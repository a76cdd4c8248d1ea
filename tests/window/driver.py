# SPDX-License-Identifier: GPL-3.0-or-later
"""Inside a Blender with a window: goes through the add-on step by step as a hand would; ``-- FOLDER``.

What it finds goes to FOLDER/found.json, pictures of the whole screen beside it.
"""

import json
import shutil
import subprocess
import sys
import time
import traceback
from pathlib import Path

import bpy

PLACE = Path(sys.argv[sys.argv.index("--") + 1])
TESTS = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(TESTS))
from ui import extension  # noqa: E402
from window import costs  # noqa: E402

ESTUARY = TESTS.parent / "scenes" / "estuary" / "shot.toml"
SHOT = PLACE / "shot" / "shot.toml"
FOUND: dict = {"steps": [], "troubles": [], "version": list(bpy.app.version)}
STEPS = []
# A proof of the small shot takes some ten seconds.
LONGEST_PROOF_S = 150
# What a number has of its column besides itself, in points, measured on what Blender still shows whole.
NUMBER_BORDER_PT = 12
# What a line of text, and the title of a group of findings, have of the sidebar's width besides their words, in points:
# tabs at the edge, the panel's borders and their own.
LINE_BORDER_PT, GROUP_BORDER_PT, ICON_PT = 60, 110, 28

# set before the window is drawn for the first time, or the splash stands in every picture
bpy.context.preferences.view.show_splash = False


def step(function):
    """Add a step; one that returns True is asked again a moment later."""
    STEPS.append(function)
    return function


def then_picture(name):
    """Add a picture as a step of its own: panels slide to their places between the steps."""

    def pictured():
        picture(name)

    STEPS.append(pictured)


def scroll(times):
    """Scroll the sidebar down, or up where ``times`` is negative."""
    operator = bpy.ops.view2d.scroll_down if times > 0 else bpy.ops.view2d.scroll_up
    with override("UI"):
        for _ in range(abs(times)):
            operator(deltay=60)


def view():
    window = bpy.context.window_manager.windows[0]
    area = next(area for area in window.screen.areas if area.type == "VIEW_3D")
    regions = {region.type: region for region in area.regions}
    return window, area, regions


def override(region="WINDOW"):
    window, area, regions = view()
    return bpy.context.temp_override(window=window, area=area, region=regions[region])


def redraw(times=2):
    with override():
        bpy.ops.wm.redraw_timer(type="DRAW_WIN_SWAP", iterations=times)


def picture(name):
    redraw()
    if shutil.which("import"):
        subprocess.run(["import", "-window", "root", str(PLACE / f"{name}.png")], check=False)


def refused(operator, **arguments):
    try:
        operator(**arguments)
    except RuntimeError as error:
        return " ".join(str(error).removeprefix("Error: ").split())
    return ""


def census():
    """Count what an add-on can leave behind."""
    handlers = {
        name: len(getattr(bpy.app.handlers, name))
        for name in dir(bpy.app.handlers)
        if isinstance(getattr(bpy.app.handlers, name), list)
    }
    return {
        "types": len(dir(bpy.types)),
        "properties": sum(len(dir(getattr(bpy.types, name))) for name in ("Scene", "Object", "WindowManager")),
        "operators": len(dir(bpy.ops.underglass)) if hasattr(bpy.ops, "underglass") else 0,
        "menu": len(bpy.types.TOPBAR_MT_file_import._dyn_ui_initialize()),
        "keymaps": sum(len(keymap.keymap_items) for keymap in bpy.context.window_manager.keyconfigs.addon.keymaps),
        **handlers,
    }


@step
def nothing_is_left_behind():
    import addon_utils

    extension.enable()
    addon_utils.disable(extension.NAME)
    before, timers, drawn = census(), 0, 0
    for _ in range(20):
        addon_utils.enable(extension.NAME)
        # one that is enabled anew has modules anew
        look, overlay = extension.part("ui.watch_changes").look_at_files, extension.part("ui.viewport_overlay")
        begun = bpy.app.timers.is_registered(look) and overlay._handle is not None
        addon_utils.disable(extension.NAME)
        timers += begun and bpy.app.timers.is_registered(look)
        drawn += begun and overlay._handle is not None
        FOUND["begun"] = begun
    FOUND["left"] = {key: [before[key], value] for key, value in census().items() if value != before[key]}
    FOUND["left"].update({name: count for name, count in (("timers", timers), ("drawing", drawn)) if count})
    extension.enable()


@step
def the_tab():
    for thing in list(bpy.data.objects):
        bpy.data.objects.remove(thing)
    _, area, _ = view()
    area.spaces.active.show_region_ui = True
    redraw()


@step
def without_a_shot():
    view()[2]["UI"].active_panel_category = "Underglass"
    picture("empty")
    names = ("open_shot", "new_from_art", "save_shot", "reload_shot", "prove", "stop_proof")
    FOUND["before"] = {name: getattr(bpy.ops.underglass, name).poll() for name in names}
    FOUND["why"] = {name: refused(getattr(bpy.ops.underglass, name)) for name in ("save_shot", "prove", "stop_proof")}
    FOUND["file_handler"] = hasattr(bpy.types, "UNDERGLASS_FH_shot")
    entries = [getattr(entry, "__module__", "") for entry in bpy.types.TOPBAR_MT_file_import._dyn_ui_initialize()]
    FOUND["import_menu"] = any("underglass" in entry for entry in entries)


@step
def open_the_estuary():
    with override():
        # as a file that is dropped: the operator is invoked with its path
        bpy.ops.underglass.open_shot("INVOKE_DEFAULT", filepath=str(ESTUARY))
        bpy.ops.view3d.view_camera()
    bpy.context.scene.frame_set(60)
    FOUND["opened"] = [len(bpy.context.scene.objects), bpy.context.scene.underglass.message]
    live = extension.part("ui.live_stack")
    FOUND["findings"] = [finding.code for finding in live.live(bpy.context.scene).findings]


then_picture("dark")


def what_is_written_fits():
    """Measure every line that was broken to the sidebar's width, and the buttons of the findings, as they are drawn."""
    import blf

    layouts, shown, groups = (extension.part(f"ui.{name}") for name in ("layouts", "shown_words", "finding_groups"))
    scale, width = bpy.context.preferences.system.ui_scale, view()[2]["UI"].width
    blf.size(0, 11 * scale)
    written, broken = [], shown.Room.lines

    def heard(room, text, *, icon=False):
        found = broken(room, text, icon=icon)
        written.extend((line, LINE_BORDER_PT + icon * ICON_PT) for line in found)
        return found

    shown.Room.lines = heard
    redraw()
    shown.Room.lines = broken
    now = extension.part("ui.live_stack").live(bpy.context.scene)
    with override("UI"):
        room = shown.room(bpy.context)
        titles = [layouts.fullest_title(group.titles, room) for group in now.groups]
        titles += [groups._capital(short) for short in groups.SHORT.values()]
    written.extend((title, GROUP_BORDER_PT) for title in titles)
    FOUND["written"] = FOUND.get("written", 0) + len(written)
    FOUND.setdefault("cut", []).extend(
        line for line, border in written if blf.dimensions(0, line)[0] > width - border * scale
    )


STEPS.append(what_is_written_fits)


def drag_the_sidebar_to(width):
    """Add steps that drag the sidebar's edge as a hand does, until it is ``width`` pixels wide."""
    place = {}

    def send(kind, value, x):
        view()[0].event_simulate(type=kind, value=value, x=round(x), y=place["y"])

    def begin():
        bar = view()[2]["UI"]
        place.update(y=bar.y + bar.height // 3, edge=bar.x + 1, to=bar.x + bar.width - width)
        send("MOUSEMOVE", "NOTHING", place["edge"] - 60)

    def at(kind, value, share):
        return lambda: send(kind, value, place["edge"] + (place["to"] - place["edge"]) * share)

    def tell():
        redraw()
        FOUND.setdefault("widths", []).append([width, view()[2]["UI"].width])

    moves = [at("MOUSEMOVE", "NOTHING", share / 4) for share in range(5)]
    STEPS.extend([begin, moves[0], at("LEFTMOUSE", "PRESS", 0), *moves[1:], at("LEFTMOUSE", "RELEASE", 1)])
    STEPS.extend([lambda: send("MOUSEMOVE", "NOTHING", 200), tell])


def numbers_are_whole():
    """Measure every number of the list of levels and of the readings against the column that it stands in."""
    import blf

    panels, widths, shown = (extension.part(f"ui.{name}") for name in ("panels", "column_widths", "shown_words"))
    scene, placed, fitting = bpy.context.scene, [], widths.fitting

    def heard(columns, **size):
        found = fitting(columns, **size)
        placed.append({column.name: points for column, points in found})
        return found

    widths.fitting = heard
    redraw(1)
    widths.fitting = fitting
    now, scale = extension.part("ui.live_stack").live(scene), bpy.context.preferences.system.ui_scale
    words, row = now.words, extension.part("ui.live_stack").row_of(now.plan, scene.frame_current)
    texts = {
        "height": [level.height(row) for level in words.levels],
        "art": [level.art for level in words.levels],
        "field": [level.field(row) for level in words.levels],
    }
    moving = [one.at(row) for part in words.parts for one in part.moving]
    texts |= dict(zip(("reading", "step"), list(zip(*moving, strict=True))[:2], strict=False))
    blf.size(0, 11 * scale)
    cut = [
        [name, text]
        for columns in placed
        for name, points in columns.items()
        for text in texts.get(name, ())
        if blf.dimensions(0, text)[0] > (points - NUMBER_BORDER_PT) * scale
    ]
    with override("UI"):
        width = shown.room(bpy.context).width
    FOUND.setdefault("columns", []).append([width, sorted({name for columns in placed for name in columns}), cut])
    assert panels


for pixels in (200, 600):
    drag_the_sidebar_to(pixels)
    then_picture(f"{pixels} px")
    STEPS.extend([what_is_written_fits, numbers_are_whole])
drag_the_sidebar_to(292)
STEPS.append(numbers_are_whole)


@step
def twice_as_large():
    bpy.context.preferences.view.ui_scale = 2.0
    redraw()


then_picture("twice as large")
STEPS.append(numbers_are_whole)


@step
def as_large_as_before():
    bpy.context.preferences.view.ui_scale = 1.0
    redraw()


@step
def further_down():
    scroll(14)


then_picture("further down")


@step
def readings():
    scroll(12)


then_picture("readings")


@step
def at_the_foot():
    scroll(60)


then_picture("at the foot")


@step
def light():
    path = next(
        Path(folder) / "interface_theme" / "Blender_Light.xml"
        for folder in bpy.utils.preset_paths("")
        if (Path(folder) / "interface_theme" / "Blender_Light.xml").is_file()
    )
    bpy.ops.script.execute_preset(filepath=str(path), menu_idname="USERPREF_MT_interface_theme_presets")
    scroll(-120)


then_picture("light")


@step
def twenty_levels():
    window, _, _ = view()
    window.scene = bpy.data.scenes.new("twenty")
    with override():
        bpy.ops.underglass.open_shot(filepath=str(PLACE / "twenty" / "shot.toml"))
        bpy.ops.view3d.view_camera()
    bpy.ops.underglass.show_level(level="level 12")
    redraw()
    FOUND["twenty"] = len(extension.part("ui.live_stack").live(bpy.context.scene).plan.names)


then_picture("twenty levels")


@step
def further_down_of_twenty():
    scroll(14)


then_picture("list of twenty")


@step
def what_a_frame_of_twenty_levels_costs():
    FOUND["costs_20"] = costs.of_a_frame_change(range(20, 70), redraw)


@step
def back_to_the_estuary():
    window, _, _ = view()
    window.scene = bpy.data.scenes["Scene"]
    scroll(-120)


@step
def from_the_side():
    _, area, _ = view()
    with override():
        bpy.ops.view3d.view_all()
    area.spaces.active.region_3d.view_rotation = (0.8, 0.45, 0.18, 0.3)
    picture("side with drawing")
    for name in ("show_field", "show_edges", "show_paths"):
        setattr(bpy.context.scene.underglass, name, False)
    picture("side without drawing")
    bpy.context.scene.underglass.show_field = bpy.context.scene.underglass.show_paths = True
    bpy.context.scene.underglass.show_edges = bpy.context.scene.underglass.show_focus = True
    picture("side with all")


@step
def what_a_frame_costs():
    FOUND["costs"] = costs.of_a_frame_change(range(20, 70), redraw)


@step
def what_is_worked_out_for_a_frame():
    """Count how often the stack is worked out while frames change; one more is asked for, to show that it is heard."""
    live, scene = extension.part("ui.live_stack"), bpy.context.scene
    work_out, worked_out = live._worked_out, []

    def heard(of, kept):
        worked_out.append(of.frame_current)
        return work_out(of, kept)

    live._worked_out = heard
    for frame in (25, 40, 55):
        scene.frame_set(frame)
        redraw(1)
    FOUND["worked_out_on"] = list(worked_out)
    live.refresh(scene)
    redraw(1)
    FOUND["asked_for"] = len(worked_out) - len(FOUND["worked_out_on"])
    live._worked_out = work_out


@step
def drag_a_level():
    scene, live = bpy.context.scene, extension.part("ui.live_stack")
    scene.frame_set(1)
    bpy.ops.ed.undo_push(message="before")
    bpy.ops.underglass.show_level(level="village")
    before = live.live(scene)
    with override():
        bpy.ops.transform.translate(value=(0, 0, 0.02))
    # a script's operators leave no step to undo of themselves
    bpy.ops.ed.undo_push(message="dragged")
    redraw()
    now = live.live(scene)
    column = now.plan.names.index("village")
    FOUND["dragged"] = {
        "grew": float(now.plan.size_px[0, column] / before.plan.size_px[0, column]),
        "unsaved": now.unsaved,
    }
    with override():
        bpy.ops.ed.undo()
    redraw()
    FOUND["dragged"]["undone"] = live.live(bpy.context.scene).unsaved
    with override():
        bpy.ops.ed.redo()
    redraw()
    FOUND["dragged"]["redone"] = live.live(bpy.context.scene).unsaved
    with override():
        bpy.ops.ed.undo()
    bpy.ops.underglass.hold_size(level="village")
    redraw()
    size = live.live(bpy.context.scene).plan.size_px[:, column]
    FOUND["dragged"]["held"] = float((size.max() - size.min()) / size[0])


then_picture("held")


@step
def a_small_shot_in_a_scene_of_its_own():
    window, _, _ = view()
    scene = bpy.data.scenes.new("small")
    window.scene = scene
    with override():
        bpy.ops.underglass.open_shot(filepath=str(SHOT))
    FOUND["small"] = len(bpy.context.scene.objects)


@step
def begin_a_proof_and_stop_it():
    proving = extension.part("ui.proof_operators")
    bpy.ops.underglass.prove()
    process = proving._run.process
    FOUND["greyed"] = [bpy.ops.underglass.prove.poll(), refused(bpy.ops.underglass.prove)]
    time.sleep(1.0)
    bpy.ops.underglass.stop_proof()
    FOUND["stopped"] = [process.poll() is not None, proving.is_running()]


@step
def prove():
    bpy.ops.underglass.prove()
    FOUND["proving_since"] = time.monotonic()
    scroll(80)


@step
def on_its_way():
    """Wait until the first test frame is measured; the window's own timer hears of it."""
    proving, running = extension.part("ui.proof_operators"), extension.part("proof.proof_beside_window")
    said = proving.present(bpy.context.scene)
    return still_proving() and not (isinstance(said, running.Progress) and said.done)


then_picture("proving")


def still_proving():
    since = time.monotonic() - FOUND["proving_since"]
    return extension.part("ui.proof_operators").is_running() and since < LONGEST_PROOF_S


@step
def to_the_end():
    return still_proving()


def told():
    """Return what the proof says of this scene."""
    said = extension.part("ui.proof_operators").present(bpy.context.scene)
    return {
        "kind": type(said).__name__,
        "verdict": getattr(said, "verdict", getattr(said, "message", "")),
        "rows": [[row.level, row.error_px, row.verdict] for row in getattr(said, "rows", ())],
        "pictures": [path.is_file() for path in getattr(said, "pictures", {}).values()],
    }


@step
def proved():
    FOUND["proof"] = told()
    scroll(80)


@step
def further_still():
    # the panel has grown by its result
    scroll(40)


then_picture("proved")


@step
def pictures_in_one_window():
    windows = bpy.context.window_manager.windows
    before, said = len(windows), []
    kept = extension.part("ui.proof_pictures").kept_with(bpy.context.scene)
    for frame in kept:
        with override():
            bpy.ops.underglass.show_picture(frame=frame)
        area = windows[-1].screen.areas[0]
        said.append([len(windows) - before, area.type, Path(area.spaces.active.image.filepath).name])
    FOUND["proof pictures"] = {"shown": said, "kept": [str(path) for path in kept.values()]}


then_picture("picture of the proof")


@step
def close_the_picture():
    windows = bpy.context.window_manager.windows
    if len(windows) > 1:
        with bpy.context.temp_override(window=windows[-1]):
            bpy.ops.wm.window_close()


@step
def a_schedule_broken_in_an_editor():
    watching = extension.part("ui.watch_changes")
    schedule = SHOT.parent / "schedule.csv"
    text = schedule.read_text(encoding="utf-8")
    (PLACE / "schedule.csv").write_text(text, encoding="utf-8")
    schedule.write_text(text.replace("steady", "stedy", 1), encoding="utf-8")
    watching.look_at_files()
    FOUND["broken"] = {
        "noticed": watching.is_changed_on_disk(bpy.context.scene),
        "said": refused(bpy.ops.underglass.reload_shot),
        "levels": len(bpy.context.scene.objects),
    }
    scroll(-160)


then_picture("broken")
STEPS.append(what_is_written_fits)


@step
def art_that_vanishes():
    watching = extension.part("ui.watch_changes")
    shutil.copy(PLACE / "schedule.csv", SHOT.parent / "schedule.csv")
    watching.look_at_files()
    calm = watching.is_changed_on_disk(bpy.context.scene)
    art = SHOT.parent / "art" / "card_a.png"
    art.rename(art.with_suffix(".away"))
    watching.look_at_files()
    FOUND["vanished"] = {
        "calm": calm,
        "noticed": watching.is_changed_on_disk(bpy.context.scene),
        "said": refused(bpy.ops.underglass.reload_shot),
        "levels": len(bpy.context.scene.objects),
    }
    art.with_suffix(".away").rename(art)


@step
def from_a_folder_to_a_move():
    """What the steps of blender_addon/README.md do, by the operators that their buttons call."""
    window, _, _ = view()
    window.scene = bpy.data.scenes.new("from art")
    with override():
        bpy.ops.underglass.new_from_art(filepath=str(PLACE / "layers" / "01 near.png"))
    scene, live = bpy.context.scene, extension.part("ui.live_stack")
    scene.frame_set(scene.frame_start)
    camera = scene.camera
    camera.keyframe_insert("location", frame=scene.frame_start)
    scene.frame_set(scene.frame_end)
    camera.location[2] -= 0.05
    camera.keyframe_insert("location", frame=scene.frame_end)
    redraw()
    bpy.ops.underglass.hold_size(level="far")
    redraw()
    size = live.live(scene).plan.size_px
    saved = bpy.ops.underglass.save_shot()
    FOUND["from_art"] = {
        "levels": live.live(scene).plan.names,
        "grows": [float(size[-1, column] / size[0, column]) for column in range(3)],
        "saved": list(saved),
        "said": scene.underglass.message,
        "unsaved": live.live(scene).unsaved,
    }


then_picture("from art")


@step
def prove_the_move():
    bpy.ops.underglass.prove()
    FOUND["proving_since"] = time.monotonic()


@step
def the_move_to_the_end():
    return still_proving()


@step
def the_move_proved():
    FOUND["from_art"]["proof"] = told()


@step
def disabled_while_it_proves():
    import addon_utils

    proving = extension.part("ui.proof_operators")
    bpy.ops.underglass.prove()
    process = proving._run.process
    addon_utils.disable(extension.NAME)
    FOUND["disabled"] = process.poll() is not None


def tick():
    if not STEPS:
        FOUND["done"] = True
        (PLACE / "found.json").write_text(json.dumps(FOUND, default=str), encoding="utf-8")
        bpy.ops.wm.quit_blender()
        return None
    current = STEPS.pop(0)
    try:
        if current():
            STEPS.insert(0, current)
            return 0.3
        FOUND["steps"].append(current.__name__)
    except Exception:  # every step tells of itself; the rest goes on
        FOUND["troubles"].append(f"{current.__name__}: {traceback.format_exc()}")
    (PLACE / "found.json").write_text(json.dumps(FOUND, default=str), encoding="utf-8")
    return 0.3


bpy.app.timers.register(tick, first_interval=1.5)
