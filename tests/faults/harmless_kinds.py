# SPDX-License-Identifier: GPL-3.0-or-later
"""What is done to a scene, or to its files, without harm: the picture is as planned, and so the proof has to pass."""

from collections.abc import Callable
from typing import Any

import numpy as np

from faults.kinds import Draw, Told, kind
from faults.stand import readings
from proving.wrong_scenes import add, curves, leaf, level


def harmless(
    name: str, do: Callable[[Any, str, Draw], None], *, fits: Callable[[Draw], bool] = lambda draw: True
) -> None:
    """Enter a kind that does no harm; ``do`` gets the scene, a level's name and the draw."""

    @kind(name, graded=False)
    def plant(draw: Draw) -> Told:
        who = draw.shot.names[draw.level()]
        return Told((), hand=lambda scene: do(scene, who, draw))


def _rename(scene: Any, who: str, draw: Draw) -> None:
    level(scene, who).name = "Plane.003"


def _idle_parent(scene: Any, who: str, draw: Draw) -> None:
    import bpy

    rig = bpy.data.objects.new("rig", None)
    scene.collection.objects.link(rig)
    level(scene, who).parent = rig


def _lamp(scene: Any, who: str, draw: Draw) -> None:
    import bpy

    lamp = bpy.data.objects.new("lamp", bpy.data.lights.new("lamp", "POINT"))
    lamp.location = draw.stand.eye[0]
    scene.collection.objects.link(lamp)


def _beside(scene: Any, who: str, draw: Draw) -> None:
    scene.collection.objects.link(leaf(float(draw.stand.corners[0, 0, 0, 2]), east=50.0))


def _unseen(scene: Any, who: str, draw: Draw) -> None:
    eye = draw.stand.eye[0]
    blade = leaf(float(eye[2] + draw.stand.corners[0, 0, 0, 2]) / 2)
    blade.location[:2] = eye[:2]
    blade.visible_camera = False
    scene.collection.objects.link(blade)


def _viewport(scene: Any, who: str, draw: Draw) -> None:
    scene.camera.hide_viewport = True
    level(scene, who).hide_viewport = True
    level(scene, draw.shot.names[0]).hide_set(True)


def _other_camera(scene: Any, who: str, draw: Draw) -> None:
    copy = scene.camera.copy()
    copy.data = scene.camera.data.copy()
    for block in (copy, copy.data):
        del block["underglass_camera"]
    copy.name = "my camera"
    scene.collection.objects.link(copy)
    scene.camera = copy


def _move_all(scene: Any, who: str, draw: Draw) -> None:
    """Put camera and levels elsewhere, all of them, by a length that single precision holds."""
    for index, by in ((0, -0.125), (1, 0.0625), (2, 0.25)):
        for part in (scene.camera, *(level(scene, name) for name in draw.shot.names)):
            add(part, "location", index, by)


def _divide(scene: Any, who: str, draw: Draw) -> None:
    import bmesh

    mesh = level(scene, who).data
    work = bmesh.new()
    work.from_mesh(mesh)
    bmesh.ops.subdivide_edges(work, edges=work.edges[:], cuts=2, use_grid_fill=True)
    work.to_mesh(mesh)
    work.free()


def _key_all(scene: Any, who: str, draw: Draw) -> None:
    """Put a key on every frame where the curve passes anyway."""
    read, first = readings(draw.shot), draw.shot.frames[0]
    for index, axis in enumerate(("east", "north", "height")):
        for curve in curves(level(scene, who), "location", index):
            for row, value in enumerate(read[who, axis].tolist()):
                curve.keyframe_points.insert(first + row, value).interpolation = "LINEAR"
            curve.update()


def _full_turn(scene: Any, who: str, draw: Draw) -> None:
    add(level(scene, who), "rotation_euler", 2, 2 * np.pi)


def _mute_constraint(scene: Any, who: str, draw: Draw) -> None:
    limit = level(scene, who).constraints.new("LIMIT_LOCATION")
    limit.use_min_x, limit.min_x, limit.mute = True, 100.0, True


def _colours(scene: Any, who: str, draw: Draw) -> None:
    level(scene, who).color = (1.0, 0.0, 0.0, 1.0)
    scene.cycles.preview_samples = 7


def _two_layers(scene: Any, who: str, draw: Draw) -> None:
    scene.view_layers.new("other")


harmless("a second view layer", _two_layers)
harmless("a level renamed", _rename)
harmless("an idle parent", _idle_parent)
harmless("a lamp brought in", _lamp)
harmless("a thing beside the field", _beside)
harmless("a thing that no camera sees", _unseen)
harmless("hidden in the viewport alone", _viewport)
harmless("a camera made anew, set the same", _other_camera)
harmless("the whole stand moved", _move_all)
harmless("a glass divided", _divide)
harmless("keys on every frame", _key_all)
harmless("a whole turn added", _full_turn)
harmless("a constraint that is muted", _mute_constraint)
harmless("colours of the viewport", _colours)
