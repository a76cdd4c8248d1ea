# SPDX-License-Identifier: GPL-3.0-or-later
"""Inside a real Blender with its window: every kind of edit goes its way there. ``edits_driver.py -- FOLDER TESTS``.

FOLDER holds a copy of the line-up for each kind; ``edits.json`` is written into it. Then the panels are left alone for
a while, and pictures are taken of what they say; with a third argument that alone.
"""

import json
import shutil
import subprocess
import sys
import time
import traceback
from pathlib import Path

import bpy

PLACE, TESTS, *ALONE = (Path(argument) for argument in sys.argv[sys.argv.index("--") + 1 :])
sys.path.insert(0, str(TESTS))

from ui import extension  # noqa: E402

FOUND = {"trips": {}, "troubles": []}
bpy.context.preferences.view.show_splash = False


def window():
    return bpy.context.window_manager.windows[0]


def override(kind="WINDOW"):
    area = next(area for area in window().screen.areas if area.type == "VIEW_3D")
    region = next(region for region in area.regions if region.type == kind)
    return bpy.context.temp_override(window=window(), area=area, region=region)


def undone(steps):
    for _ in range(steps):
        with override():
            bpy.ops.ed.undo()


def redraw():
    with override():
        bpy.ops.wm.redraw_timer(type="DRAW_WIN_SWAP", iterations=2)


def picture(name):
    redraw()
    if shutil.which("import"):
        subprocess.run(["import", "-window", "root", str(PLACE / f"{name}.png")], check=False)


def opened(name):
    extension.empty()
    shot_file = PLACE / name / "shot.toml"
    with override():
        bpy.ops.underglass.open_shot(filepath=str(shot_file))
    return shot_file


def one(edit):
    from ui import edit_trips

    shot_file = opened(edit.__name__)
    with override():
        found = edit_trips.trip(edit, shot_file, undo=undone)
    redraw()
    return found


def steps():
    """Yield what there is to do, one thing a tick, so that the window lives between them."""
    extension.enable()
    from ui import edit_kinds

    for edit in () if ALONE else (*edit_kinds.SAVED, *edit_kinds.REFUSED):
        yield lambda edit=edit: FOUND["trips"].update({edit.__name__: one(edit)})
    yield from the_sidebar(edit_kinds)


def the_sidebar(kinds):  # noqa: PLR0915  one step after another
    resting, live = extension.part("ui.read_at_rest"), extension.part("ui.live_stack")

    def shown():
        # a window that was just made anew crashes Blender when it is told of its sidebar at once
        area = next(area for area in window().screen.areas if area.type == "VIEW_3D")
        area.spaces.active.show_region_ui = True
        redraw()

    def tab():
        area = next(area for area in window().screen.areas if area.type == "VIEW_3D")
        ui = next(region for region in area.regions if region.type == "UI")
        ui.active_panel_category = "Underglass"

    yield lambda: opened("sidebar")
    yield redraw
    yield shown
    yield tab
    yield kinds.a_parent_that_moves
    # it rests by itself
    yield lambda: FOUND.update(began=time.monotonic())
    for _ in range(4):
        yield redraw

    def rested():
        FOUND["rested"] = list(live.live(window().scene).unsaved)
        FOUND["settled"] = live.is_settled(window().scene)
        settle, FOUND["readings"] = resting.settle, 0

        def counted(scene):
            FOUND["readings"] += 1
            return settle(scene)

        resting.settle = counted

    yield rested
    for _ in range(6):
        yield redraw
    yield lambda: FOUND.update(idle=FOUND["readings"])
    yield lambda: picture("unsaved")
    yield kinds.levels_that_cross_on_the_way
    for _ in range(3):
        yield redraw
    yield lambda: picture("refused")

    def another_range():
        opened("ranges")
        window().scene.frame_start, window().scene.frame_end = 101, 148

    yield another_range
    yield redraw
    yield shown
    yield tab
    for _ in range(3):
        yield redraw
    yield lambda: picture("range")
    yield lambda: opened("lens")
    yield redraw
    yield shown
    yield tab

    def the_lens():
        window().scene.underglass_lens.focal_mm = 35.0

    def further_down():
        # the panel of the lens lies behind those of the stack
        with override("UI"):
            for _ in range(30):
                bpy.ops.view2d.scroll_down(deltay=100)

    yield the_lens
    yield redraw
    yield further_down
    for _ in range(2):
        yield redraw
    yield lambda: picture("lens")


TODO = steps()


def tick():
    try:
        step = next(TODO)
        step()
    except StopIteration:
        FOUND["done"] = True
        (PLACE / "edits.json").write_text(json.dumps(FOUND), encoding="utf-8")
        bpy.ops.wm.quit_blender()
        return None
    except Exception:
        FOUND["troubles"].append(traceback.format_exc())
    (PLACE / "edits.json").write_text(json.dumps(FOUND), encoding="utf-8")
    return 0.25


bpy.app.timers.register(tick, first_interval=1.5, persistent=True)
