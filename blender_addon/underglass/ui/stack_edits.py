# SPDX-License-Identifier: GPL-3.0-or-later
"""What an artist does with the stack: a level more, a copy, other art, another order or name, one less, other units.

Each changes the scene and its draft together, so that Save writes what is seen and undo goes back over both.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from ..layered.names_from_art import layer_name, level_names
from ..plan import Plan
from ..revise import restacked_shot
from ..revise.other_units import in_other_units
from ..shot import Level, Projection, Shot, UnderglassError
from ..shot.files.levels import name_fault
from ..stage import restack_scene
from . import art_files, draft_shot, live_stack, viewport_edges

SAME_WIDTH, SAME_PIXELS, SAME_HEIGHT = "width", "pixels", "height"


def add_image(scene: Any, file: Path, *, near: str = "") -> str:
    """Add a level of an image below the level ``near``, filling the frame; return its name."""
    plan = _present(scene).plan
    name = free_name(plan.shot, layer_name(file.name))
    with art_files.brought(file, plan.shot) as (art, header):
        return _added(scene, name, art, (header.width, header.height), near=near)


def add_card(scene: Any, name: str, *, near: str = "") -> str:
    """Add a level with a clear card of the frame's size, to be painted; return its name."""
    plan = _present(scene).plan
    name = free_name(plan.shot, name)
    size = plan.shot.camera.frame_px
    with art_files.clear_card(name, size, plan.shot) as art:
        return _added(scene, name, art, size, near=near)


def _added(scene: Any, name: str, art: str, art_px: tuple[int, int], *, near: str) -> str:
    plan = _present(scene).plan
    height = restacked_shot.free_height(plan, near)
    width, tall = _field(plan, height)
    camera = {axis: float(plan.tracks.camera[axis][0]) for axis in ("east", "north", "turn")}
    level = Level(name, art, max(width, tall * art_px[0] / art_px[1]), height, art_px, covers=(), **camera)
    after = _redraft(scene, lambda shot: restacked_shot.with_level(shot, restacked_shot.tidied(level, shot.units)))
    restack_scene.add(scene, after, name)
    viewport_edges.apply(scene)
    return name


def duplicate(scene: Any, name: str) -> str:
    """Copy a level, moves and all, to half way below it; return the copy's name."""
    plan, glass = _present(scene).plan, _glass(scene, name)
    copy, lower = free_name(plan.shot, name), restacked_shot.room_below(plan, name)
    _redraft(scene, lambda shot: restacked_shot.with_copy(shot, name, copy=copy, lower=lower))
    restack_scene.copy(scene, glass, copy, lower=lower)
    return copy


def replace_painting(scene: Any, name: str, file: Path, *, keep: str) -> str:
    """Give a level another painting at its place; ``keep`` says what stays of its size. Returns the file's way."""
    plan, glass = _present(scene).plan, _glass(scene, name)
    level = plan.shot.levels[plan.names.index(name)]
    with art_files.brought(file, plan.shot) as (art, header):
        width = level.art_width
        if keep == SAME_PIXELS:
            width = level.art_width * header.width / level.art_px[0]
        elif keep == SAME_HEIGHT:
            width = level.art_height * header.width / header.height
        size = header.width, header.height
        after = _redraft(scene, lambda shot: restacked_shot.with_art(shot, name, art=art, art_px=size, art_width=width))
    restack_scene.paint(glass, after, name)
    viewport_edges.apply(scene)
    return art


def move(scene: Any, name: str, *, nearer: bool, keep_size: bool) -> str:
    """Exchange the heights of a level and the next one, nearer the lens or farther off; return the other's name.

    With ``keep_size`` both look as large as before on the first frame.
    """
    plan = _present(scene).plan
    column = plan.names.index(name)
    beside = column - 1 if nearer else column + 1
    if not 0 <= beside < len(plan.names):
        raise UnderglassError(f"{name} is {'nearest the lens' if nearer else 'the rearmost level'} already")
    other = plan.names[beside]
    near, far = float(plan.distance[0, column]), float(plan.distance[0, beside])
    one, two = _glass(scene, name), _glass(scene, other)
    for glass in (one, two):
        if restack_scene.is_pulled(glass):
            raise UnderglassError(f"{glass.name} is moved by a parent, a constraint or a driver: take that off first")
    _, before = live_stack.shot_and_plan(scene)
    after = _redraft(scene, lambda shot: restacked_shot.exchanged(shot, name, other))
    sizes = (1.0, 1.0)
    if keep_size and plan.shot.camera.projection is Projection.PERSPECTIVE:
        # size goes by v/d; where focus follows one of the two the lens reaches out otherwise
        lens = float(before.image_distance[0] / after.image_distance[0])
        sizes = (lens * far / near, lens * near / far)
    restack_scene.exchange(one, two, sizes=sizes)
    restack_scene.key_lens(scene, before, after)
    return other


def rename(scene: Any, name: str, new: str) -> str:
    """Give a level another name, wherever it is named; return it."""
    new = new.strip()
    if fault := name_fault(new):
        raise UnderglassError(f"the name {fault[0]}; {fault[1]}")
    glass = _glass(scene, name)
    _redraft(scene, lambda shot: restacked_shot.renamed(shot, name, new=new))
    restack_scene.rename(glass, new)
    return new


def delete(scene: Any, name: str) -> None:
    """Take a level out of the shot and the scene; its art stays in the folder."""
    glass = _glass(scene, name)
    _redraft(scene, lambda shot: restacked_shot.without_level(shot, name))
    restack_scene.remove(glass)


def use_units(scene: Any, units: str) -> None:
    """Let the shot's files count in other units; nothing moves."""
    _redraft(scene, lambda shot: in_other_units(shot, units))


def free_name(shot: Shot, name: str) -> str:
    """Return ``name``, or with a number where the shot has such a level."""
    return level_names([*shot.names, name])[-1]


def _redraft(scene: Any, change: Callable[[Shot], Shot]) -> Plan:
    shot, _ = live_stack.shot_and_plan(scene)
    plan = draft_shot.keep(scene, change(shot), like=live_stack.shot_on_disk(scene))
    live_stack.forget(scene)
    return plan


def _present(scene: Any) -> Any:
    now = live_stack.live(scene)
    if now is None or now.plan is None:
        raise UnderglassError(
            (now and now.trouble) or live_stack.trouble(scene) or "this scene has no shot; open one first"
        )
    return now


def _glass(scene: Any, name: str) -> Any:
    glass = live_stack.glass_of(scene, name)
    if glass is None:
        raise UnderglassError(f"{name} is not in the scene")
    if glass.library is not None:
        raise UnderglassError(f"{name} is linked from another file: make it local first")
    return glass


def _field(plan: Plan, height: float) -> tuple[float, float]:
    """Return width and height of what the camera takes in at a height, on the first frame, m."""
    camera = plan.shot.camera
    if camera.projection is Projection.ORTHOGRAPHIC or camera.gate is None:
        width = camera.field_width
    else:
        distance = float(plan.tracks.camera["height"][0]) - height
        width = camera.gate.width * camera.squeeze * distance / float(plan.image_distance[0])
    return width, width * camera.frame_px[1] / camera.frame_px[0] / camera.squeeze
