# SPDX-License-Identifier: GPL-3.0-or-later
"""What else stands in the stack, such as a default scene's cube, and putting it away: moved into a hidden collection.

Nothing is deleted, and it can be brought back.
"""

from itertools import islice
from typing import Any

import bpy
import numpy as np

from ..stage import other_things, stack_marks
from . import live_stack
from .redraw import redraw_viewports
from .report_operator import NeedsShot, done, failed, may_work, reported

AWAY = "underglass_put_away"
WAS_IN = "underglass_was_in"
NAME = "Put away"
# A thing that only touches the stack's box is beside it, m.
TOUCHES = 1e-4
# It is looked once a second, which must not be felt in a scene of any size; the proof looks at all.
MOST_LOOKED_AT = 2000

_found: dict[int, tuple[str, ...]] = {}


def in_the_stack(scene: Any) -> tuple[str, ...]:
    """Return the names of the things that stood in the stack of ``scene`` when it was last looked at."""
    return _found.get(scene.as_pointer(), ())


def look(scene: Any) -> None:
    """Look for what stands in the stack of ``scene``; the sidebar is drawn anew where that is something else."""
    key, found = scene.as_pointer(), _look(scene)
    if _found.get(key, ()) != found:
        _found[key] = found
        redraw_viewports()


def forget() -> None:
    """Forget all: another file was loaded, or undo went to another state."""
    _found.clear()


def _look(scene: Any) -> tuple[str, ...]:
    now = live_stack.live(scene) if scene.underglass.shot_file else None
    if now is None or now.plan is None:
        return ()
    low, high = _box(now.plan)
    looked_at = islice(scene.objects, MOST_LOOKED_AT)
    return tuple(thing.name for thing in looked_at if _is_other(thing) and _is_inside(thing, low, high))


def _box(plan: Any) -> tuple[Any, Any]:
    """Return the lowest and the highest corner of the box that the lens looks into, over all frames, m."""
    camera = plan.tracks.camera
    half = plan.shot.camera.frame_px[0] / plan.scale / 2
    east, north = camera["east"][:, None], camera["north"][:, None]
    low = [float((east - half).min()), float((north - half).min()), float(plan.tracks.levels["height"].min())]
    high = [float((east + half).max()), float((north + half).max()), float(camera["height"].max())]
    return np.array(low), np.array(high)


def _is_other(thing: Any) -> bool:
    shows = thing.type in other_things.SOLID or thing.instance_type == "COLLECTION"
    if not shows or stack_marks.is_ours(thing) or any(AWAY in home for home in thing.users_collection):
        return False
    return thing.visible_get() or not (thing.hide_render or thing.hide_viewport)


def _is_inside(thing: Any, low: Any, high: Any) -> bool:
    corners = np.array([tuple(corner) for corner in thing.bound_box])
    matrix = np.array(thing.matrix_world)
    world = corners @ matrix[:3, :3].T + matrix[:3, 3]
    return bool((world.max(axis=0) > low + TOUCHES).all() and (world.min(axis=0) < high - TOUCHES).all())


class UNDERGLASS_OT_put_away(NeedsShot, bpy.types.Operator):
    """Move what stands in the stack into a collection that is hidden in viewport and render. Nothing is deleted"""

    bl_idname = "underglass.put_away"
    bl_label = "Put Away"
    bl_options = {"REGISTER", "UNDO"}

    @reported
    def execute(self, context: Any) -> set[str]:
        scene = context.scene
        look(scene)
        moved = [name for name in in_the_stack(scene) if _moved(scene, scene.objects[name])]
        look(scene)
        if not moved:
            return failed(self, scene, "nothing of this file stands in the stack")
        return done(self, scene, f"{', '.join(moved)} put away; Bring Back shows it again")


class UNDERGLASS_OT_bring_back(bpy.types.Operator):
    """Bring back what was put away, into the collections that it was in"""

    bl_idname = "underglass.bring_back"
    bl_label = "Bring Back"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: Any) -> bool:
        if not may_work(cls, context):
            return False
        if away(context.scene) is None:
            cls.poll_message_set("Nothing was put away")
            return False
        return True

    @reported
    def execute(self, context: Any) -> set[str]:
        scene = context.scene
        collection = away(scene)
        back = [thing.name for thing in collection.objects]
        for thing in list(collection.objects):
            names = str(thing.get(WAS_IN, "")).split("\n")
            homes = [home for home in scene.collection.children_recursive if home.name in names and home != collection]
            for home in homes or [scene.collection]:
                if thing.name not in home.objects:
                    home.objects.link(thing)
            if WAS_IN in thing:
                del thing[WAS_IN]
        bpy.data.collections.remove(collection)
        look(scene)
        return done(self, scene, f"{', '.join(back)} brought back" if back else "there was nothing to bring back")


def away(scene: Any) -> Any:
    """Return the collection of what was put away in ``scene``, None where nothing was."""
    return next((one for one in scene.collection.children if AWAY in one), None)


def _moved(scene: Any, thing: Any) -> bool:
    """Move a thing out of every collection of ``scene``; return whether that could be done."""
    homes = [home for home in (scene.collection, *scene.collection.children_recursive) if thing.name in home.objects]
    if thing.library is not None or any(home.library is not None for home in homes):
        return False
    collection = away(scene)
    if collection is None:
        collection = bpy.data.collections.new(NAME)
        collection[AWAY] = 1
        scene.collection.children.link(collection)
        collection.hide_viewport = collection.hide_render = True
    thing[WAS_IN] = "\n".join(home.name for home in homes)
    collection.objects.link(thing)
    for home in homes:
        home.objects.unlink(thing)
    return True


CLASSES = (UNDERGLASS_OT_put_away, UNDERGLASS_OT_bring_back)
