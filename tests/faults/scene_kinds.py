# SPDX-License-Identifier: GPL-3.0-or-later
"""Kinds of fault in a .blend: what a person, or a script of theirs, does to a stack that was built right."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from faults.kinds import CAMERA, Draw, Name, Told, UnfitError, kind
from faults.made_shots import unit_of
from faults.stand import Stand, with_corners
from proving.wrong_scenes import add, change_keys, curves, level
from underglass.shot import Projection

EAST, NORTH, UP = 0, 1, 2
PLACES = {"east": EAST, "north": NORTH, "height": UP}
PERSPECTIVE, ORTHOGRAPHIC = Projection.PERSPECTIVE, Projection.ORTHOGRAPHIC


def moved(stand: Stand, column: int, axis: int, by: float | np.ndarray) -> Stand:
    """Return the stand with one level further along an axis, by a number or (F,)."""
    step = np.zeros((len(stand.eye), 1, 3))
    step[..., axis] = np.reshape(np.broadcast_to(by, len(stand.eye)), (-1, 1))
    return with_corners(stand, column, lambda corners: corners + step)


def camera_moved(stand: Stand, axis: int, by: float | np.ndarray) -> Stand:
    """Return the stand with its camera further along an axis."""
    eye = stand.eye.copy()
    eye[:, axis] += by
    return replace(stand, eye=eye)


def rotation(axis: int, angle: float) -> np.ndarray:
    """Return a rotation about one axis, (3, 3)."""
    one, two = [(1, 2), (2, 0), (0, 1)][axis]
    matrix = np.eye(3)
    matrix[one, one] = matrix[two, two] = np.cos(angle)
    matrix[one, two], matrix[two, one] = -np.sin(angle), np.sin(angle)
    return matrix


def about_centre(stand: Stand, column: int, matrix: np.ndarray) -> Stand:
    """Return the stand with one level turned or stretched about the centre of its art."""

    def change(corners: np.ndarray) -> np.ndarray:
        centre = corners.mean(axis=1, keepdims=True)
        return (corners - centre) @ matrix.T + centre

    return with_corners(stand, column, change)


def worst_px(draw: Draw, broken: Stand) -> np.ndarray:
    """Return how far the worst level is out on every frame, (F,)."""
    return broken.away_from(draw.stand).max(axis=1)


def read_as(draw: Draw, axis: str, amount: float) -> tuple[float, str]:
    """Return an amount in the unit that a fault is told in."""
    unit = {"turn": "degrees", "tilt": "degrees"}.get(axis, draw.shot.units)
    return amount / unit_of(draw.shot.units, "turn" if unit == "degrees" else axis), unit


def offset(draw: Draw, subject: str, axis: str, amount: float, broken: Stand, hand: Callable[[Any], None]) -> Told:
    """Return an axis that is off by the same on every frame."""
    said, unit = read_as(draw, axis, amount)
    name = Name((f"{axis}-offset",), subject, int(np.sign(amount)), said, unit, worst_px(draw, broken))
    return Told((name,), broken, hand=hand, also=cut_away(draw, broken), amount=said, unit=unit)


def cut_away(draw: Draw, broken: Stand) -> frozenset[tuple[str, str]]:
    """Return what may be told of levels that now lie where the camera cuts things away: half as near, twice as far."""
    depth = draw.stand.eye[:, None, UP] - draw.stand.corners[..., UP].mean(axis=2)
    now = broken.eye[:, None, UP] - broken.corners[..., UP].mean(axis=2)
    gone = ((now < depth.min() * 0.501) | (now > depth.max() * 1.999)).any(axis=0)
    return frozenset((draw.shot.names[column], "clipped") for column in np.flatnonzero(gone))


# --- a level put elsewhere


def _level_along(axis: str) -> None:
    @kind(f"level {axis} off", projection=PERSPECTIVE if axis == "height" else None)
    def plant(draw: Draw) -> Told:
        column, sign, index = draw.level(), draw.sign(), PLACES[axis]
        name = draw.shot.names[column]
        size, broken = draw.scaled(lambda size: moved(draw.stand, column, index, sign * size))
        _require_order(broken)
        hand = lambda scene: add(level(scene, name), "location", index, sign * size)  # noqa: E731
        return offset(draw, name, axis, sign * size, broken, hand)


def _require_order(stand: Stand) -> None:
    """Raise UnfitError where levels no longer lie in their order below the lens: that is a fault of its own."""
    heights = stand.corners[..., UP].mean(axis=2)
    if (np.diff(heights, axis=1) >= -1e-6).any() or (heights[:, 0] >= stand.eye[:, UP] - 0.01).any():
        raise UnfitError


for _axis in PLACES:
    _level_along(_axis)


@kind("level turn off")
def _(draw: Draw) -> Told:
    column, sign = draw.level(), draw.sign()
    name = draw.shot.names[column]
    angle, broken = draw.scaled(lambda angle: about_centre(draw.stand, column, rotation(UP, sign * angle)))
    if angle > 0.5:
        raise UnfitError
    hand = lambda scene: add(level(scene, name), "rotation_euler", UP, sign * angle)  # noqa: E731
    return offset(draw, name, "turn", sign * angle, broken, hand)


@kind("level scaled")
def _(draw: Draw) -> Told:
    column, sign = draw.level(), draw.sign()
    name = draw.shot.names[column]
    share, broken = draw.scaled(lambda share: about_centre(draw.stand, column, np.eye(3) * (1 + sign * share)))
    if share > 0.9:
        raise UnfitError

    def hand(scene: Any) -> None:
        level(scene, name).scale = [1 + sign * share] * 3

    names = tuple(
        Name((f"{axis}-offset",), name, int(sign), px=worst_px(draw, broken)) for axis in ("width", "art-height")
    )
    also = frozenset({(name, "width"), (name, "art_height")})
    return Told(names, broken, hand=hand, also=also, amount=100 * sign * share, unit="%")


# --- the camera put elsewhere


def _camera_along(axis: str) -> None:
    @kind(f"camera {axis} off", projection=PERSPECTIVE if axis == "height" else None)
    def plant(draw: Draw) -> Told:
        sign, index = draw.sign(), PLACES[axis]
        size, broken = draw.scaled(lambda size: camera_moved(draw.stand, index, sign * size))
        _require_order(broken)
        hand = lambda scene: add(scene.camera, "location", index, sign * size)  # noqa: E731
        return offset(draw, CAMERA, axis, sign * size, broken, hand)


for _axis in PLACES:
    _camera_along(_axis)


@kind("lens off", projection=PERSPECTIVE)
def _(draw: Draw) -> Told:
    sign = draw.sign()
    share, broken = draw.scaled(lambda share: replace(draw.stand, reach=draw.stand.reach * (1 + sign * share)))
    if share > 0.7:
        raise UnfitError

    def hand(scene: Any) -> None:
        data = scene.camera.data
        data.lens *= 1 + sign * share
        for curve in curves(data, "lens"):
            change_keys(curve, lambda frame, value: (frame, value * (1 + sign * share)))

    codes = ("lens-offset", "lens-too-far", "lens-strays", "no-breathing", "lens-uneven")
    return Told(
        (Name(codes, CAMERA, px=worst_px(draw, broken)),), broken, hand=hand, amount=100 * sign * share, unit="%"
    )


# --- what is there at all


@kind("level deleted", graded=False)
def _(draw: Draw) -> Told:
    import bpy

    name = draw.shot.names[draw.level()]
    hand = lambda scene: bpy.data.objects.remove(level(scene, name))  # noqa: E731
    return Told((Name(("missing",), name),), structural=True, hand=hand)


@kind("level hidden from render", graded=False)
def _(draw: Draw) -> Told:
    name = draw.shot.names[draw.level()]

    def hand(scene: Any) -> None:
        level(scene, name).hide_render = True

    return Told((Name(("hidden",), name),), structural=True, hand=hand, also=frozenset({(name, "not-seen")}))
