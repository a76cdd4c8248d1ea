# SPDX-License-Identifier: GPL-3.0-or-later
"""Kinds of fault in a .blend that have a size: what else than its own counters can put a level or the camera out."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from faults.kinds import CAMERA, Draw, Name, Told, UnfitError, kind
from faults.scene_kinds import (
    EAST,
    NORTH,
    ORTHOGRAPHIC,
    PERSPECTIVE,
    UP,
    about_centre,
    camera_moved,
    cut_away,
    moved,
    offset,
    read_as,
    rotation,
    worst_px,
)
from faults.stand import Stand, readings, with_corners
from proving.wrong_scenes import add, curves, level

Hand = Callable[[Any], None]


def square_level(draw: Draw) -> int:
    """Return a level whose own axes are those of the stand on every frame."""
    read = readings(draw.shot)
    square = [column for column, name in enumerate(draw.shot.names) if not read[name, "turn"].any()]
    if not square:
        raise UnfitError
    return int(draw.rng.choice(square))


def still_axis(draw: Draw, column: int, axis: str) -> float:
    """Return where an axis of a level stands, if it never moves."""
    track = readings(draw.shot)[draw.shot.names[column], axis]
    if np.ptp(track) > 0:
        raise UnfitError
    return float(track[0])


def _pushed(
    name: str, hand_for: Callable[[str, int, float, float], Hand], *, beside: str = "", square: bool = True
) -> None:
    """Enter a kind that pushes a level east or north by something else than its counter.

    ``hand_for`` gets the level, the axis, the way in metres and where the axis stands; ``beside`` is told as well.
    """

    @kind(name)
    def plant(draw: Draw) -> Told:
        column = square_level(draw) if square else draw.level()
        index = int(draw.rng.integers(2))
        axis, sign, who = ("east", "north")[index], draw.sign(), draw.shot.names[column]
        stands = still_axis(draw, column, axis) if beside == "has-driver" else 0.0
        size, broken = draw.scaled(lambda size: moved(draw.stand, column, index, sign * size))
        planted = offset(draw, who, axis, sign * size, broken, hand_for(who, index, sign * size, stands))
        # What pulls it is the fault, where anything does, and says by how much.
        (name,) = planted.names
        names = (replace(name, codes=(*name.codes, *([beside] if beside else []))),)
        return replace(planted, names=names, also=planted.also | {(who, beside)})


def _vertices(who: str, axis: int, by: float, stands: float) -> Hand:
    def hand(scene: Any) -> None:
        for vertex in level(scene, who).data.vertices:
            vertex.co[axis] += by

    return hand


def _delta(who: str, axis: int, by: float, stands: float) -> Hand:
    def hand(scene: Any) -> None:
        level(scene, who).delta_location[axis] = by

    return hand


def _texture(who: str, axis: int, by: float, stands: float) -> Hand:
    def hand(scene: Any) -> None:
        mesh = level(scene, who).data
        side = np.ptp([vertex.co[axis] for vertex in mesh.vertices])
        for corner in mesh.uv_layers[0].data:
            corner.uv[axis] -= by / side

    return hand


def _parent(who: str, axis: int, by: float, stands: float) -> Hand:
    def hand(scene: Any) -> None:
        import bpy

        rig = bpy.data.objects.new("rig", None)
        rig.location[axis] = by
        scene.collection.objects.link(rig)
        level(scene, who).parent = rig

    return hand


def _constraint(who: str, axis: int, by: float, stands: float) -> Hand:
    def hand(scene: Any) -> None:
        import bpy

        target = bpy.data.objects.new("target", None)
        target.location[axis] = by
        scene.collection.objects.link(target)
        copy = level(scene, who).constraints.new("COPY_LOCATION")
        copy.target, copy.use_offset = target, True

    return hand


def _driver(who: str, axis: int, by: float, stands: float) -> Hand:
    def hand(scene: Any) -> None:
        driven = level(scene, who).driver_add("location", axis)
        for modifier in list(driven.modifiers):
            driven.modifiers.remove(modifier)
        driven.driver.type = "SUM"
        for frame in (0, 1):
            driven.keyframe_points.insert(frame, stands + by)

    return hand


def _modifier(who: str, axis: int, by: float, stands: float) -> Hand:
    def hand(scene: Any) -> None:
        modifier = level(scene, who).modifiers.new("slide", "DISPLACE")
        modifier.direction, modifier.mid_level, modifier.strength = "XY"[axis], 0.0, by

    return hand


def _shape_key(who: str, axis: int, by: float, stands: float) -> Hand:
    def hand(scene: Any) -> None:
        obj = level(scene, who)
        obj.shape_key_add(name="basis")
        key = obj.shape_key_add(name="slid")
        for point in key.data:
            point.co[axis] += by
        key.value = 1.0

    return hand


_pushed("vertices moved", _vertices)
_pushed("delta location", _delta, square=False)
_pushed("texture moved on its glass", _texture, beside="has-uv")
_pushed("parented to what stands elsewhere", _parent, beside="has-parent", square=False)
_pushed("held by a constraint", _constraint, beside="has-constraint", square=False)
_pushed("driven", _driver, beside="has-driver", square=False)
_pushed("slid by a modifier", _modifier, beside="has-modifier")
_pushed("slid by a shape key", _shape_key)


def _stretched(
    name: str, axis: str, side: int, hand_for: Callable[[str, int, float], Hand], *, cause: str = ""
) -> None:
    """Enter a kind that makes the art of a level larger or smaller along one of its sides; ``cause`` may be told of."""

    @kind(name)
    def plant(draw: Draw) -> Told:
        column, sign = square_level(draw), draw.sign()
        who = draw.shot.names[column]

        def wider(share: float) -> Stand:
            matrix = np.eye(3)
            matrix[side, side] += sign * share
            return about_centre(draw.stand, column, matrix)

        share, broken = draw.scaled(wider)
        if share > 0.8:
            raise UnfitError
        codes = (f"{axis}-offset", *([cause] if cause else []))
        found = Name(codes, who, int(sign), px=worst_px(draw, broken))
        return Told((found,), broken, hand=hand_for(who, side, 1 + sign * share), amount=100 * sign * share, unit="%")


def _scale(who: str, side: int, factor: float) -> Hand:
    def hand(scene: Any) -> None:
        level(scene, who).scale[side] = factor

    return hand


def _scale_texture(who: str, side: int, factor: float) -> Hand:
    def hand(scene: Any) -> None:
        for corner in level(scene, who).data.uv_layers[0].data:
            corner.uv[side] = 0.5 + (corner.uv[side] - 0.5) / factor

    return hand


_stretched("level stretched across", "width", EAST, _scale)
_stretched("level stretched upward", "art-height", NORTH, _scale)
_stretched("texture stretched on its glass", "width", EAST, _scale_texture, cause="has-uv")


@kind("a corner of the glass pulled")
def _(draw: Draw) -> Told:
    column, corner = square_level(draw), int(draw.rng.integers(4))
    who = draw.shot.names[column]

    def pulled(size: float) -> Stand:
        step = np.zeros((1, 4, 3))
        step[0, corner, EAST] = size
        return with_corners(draw.stand, column, lambda corners: corners + step)

    size, broken = draw.scaled(pulled)
    if size > 0.3 * draw.shot.levels[column].art_width:
        raise UnfitError

    def hand(scene: Any) -> None:
        level(scene, who).data.vertices[corner].co[EAST] += size

    axes = ("east", "width", "turn", "art_height", "tilt", "north", "height")
    names = (
        Name(("corner-moved", "out-of-place", "not-flat", *(f"{axis.replace('_', '-')}-offset" for axis in axes)), who),
    )
    amount, unit = read_as(draw, "east", size)
    return Told(
        names, broken, hand=hand, also=frozenset((who, axis) for axis in axes), amount=amount, unit=unit, flat=False
    )


def leaning(stand: Stand, column: int, axis: int, angle: float) -> Stand:
    """Return the stand with a level leaning about one of its own sides."""

    def change(corners: np.ndarray) -> np.ndarray:
        centre = corners.mean(axis=1, keepdims=True)
        across = corners[:, 1] - corners[:, 0]
        side = across / np.linalg.norm(across, axis=1, keepdims=True)
        other = np.stack([-side[:, 1], side[:, 0], np.zeros(len(side))], axis=-1)
        own = np.stack([side, other, np.broadcast_to([0.0, 0.0, 1.0], side.shape)], axis=-1)
        turn = own @ rotation(axis, angle) @ own.transpose(0, 2, 1)
        return np.einsum("fij,fcj->fci", turn, corners - centre) + centre

    return with_corners(stand, column, change)


@kind("level out of square", projection=PERSPECTIVE)
def _(draw: Draw) -> Told:
    column, axis, sign = draw.level(), int(draw.rng.integers(2)), draw.sign()
    who = draw.shot.names[column]
    angle, broken = draw.scaled(lambda angle: leaning(draw.stand, column, axis, sign * angle))
    if angle > 0.5:
        raise UnfitError
    hand = lambda scene: add(level(scene, who), "rotation_euler", axis, sign * angle)  # noqa: E731
    name = Name(("tilt-offset",), who, 1, np.degrees(angle), "degrees")
    return Told((name,), broken, hand=hand, amount=np.degrees(angle), unit="degrees", flat=False)


# --- the camera


def camera_turned(draw: Draw, axis: int, angle: float) -> Stand:
    """Return the stand with the camera turned about one of its own axes."""
    return replace(draw.stand, axes=draw.stand.axes @ rotation(axis, angle))


@kind("camera turn off")
def _(draw: Draw) -> Told:
    sign = draw.sign()
    angle, broken = draw.scaled(lambda angle: camera_turned(draw, UP, sign * angle))
    if angle > 0.5:
        raise UnfitError
    hand = lambda scene: add(scene.camera, "rotation_euler", UP, sign * angle)  # noqa: E731
    return offset(draw, CAMERA, "turn", sign * angle, broken, hand)


@kind("camera out of square")
def _(draw: Draw) -> Told:
    sign, axis = draw.sign(), int(draw.rng.integers(2))
    angle, broken = draw.scaled(lambda angle: camera_turned(draw, axis, sign * angle))
    if angle > 0.4:
        raise UnfitError
    hand = lambda scene: add(scene.camera, "rotation_euler", axis, sign * angle)  # noqa: E731
    name = Name(("tilt-offset",), CAMERA, 1, np.degrees(angle), "degrees", worst_px(draw, broken))
    also = cut_away(draw, broken)
    return Told((name,), broken, hand=hand, also=also, amount=np.degrees(angle), unit="degrees", flat=False)


def _shifted_lens(axis: int) -> None:
    @kind(f"lens shifted {('across', 'upward')[axis]}")
    def plant(draw: Draw) -> Told:
        sign = draw.sign()

        def shifted(size: float) -> Stand:
            shift = draw.stand.shift.copy()
            # Blender's shift is a share of the fitted side, here the width: in px of the frame's own, squeeze and all.
            shift[:, axis] += sign * size
            return replace(draw.stand, shift=shift)

        size, broken = draw.scaled(shifted)

        def hand(scene: Any) -> None:
            setattr(scene.camera.data, ("shift_x", "shift_y")[axis], sign * size)

        code = ("shift-x-offset", "shift-y-offset")[axis]
        name = Name((code,), CAMERA, int(sign), sign * size, "frame widths", worst_px(draw, broken))
        return Told((name,), broken, hand=hand, amount=sign * size, unit="frame widths")


_shifted_lens(0)
_shifted_lens(1)


def _film(name: str, what: str, code: str, *, projection: Any) -> None:
    """Enter a kind that makes the film, or the field of an orthographic camera, wider or narrower."""

    @kind(name, projection=projection)
    def plant(draw: Draw) -> Told:
        sign = draw.sign()
        share, broken = draw.scaled(lambda share: replace(draw.stand, film=draw.stand.film * (1 + sign * share)))
        if share > 0.7:
            raise UnfitError

        def hand(scene: Any) -> None:
            setattr(scene.camera.data, what, getattr(scene.camera.data, what) * (1 + sign * share))

        shapes = ("offset", "too-far", "strays", "uneven")
        codes = (*(f"{code}-{shape}" for shape in shapes), *(("sensor-size",) if code == "lens" else ()))
        names = Name(codes, CAMERA, px=worst_px(draw, broken))
        return Told((names,), broken, hand=hand, amount=100 * sign * share, unit="%")


_film("sensor of another size", "sensor_width", "lens", projection=PERSPECTIVE)
_film("orthographic field off", "ortho_scale", "field", projection=ORTHOGRAPHIC)


@kind("camera parented to what stands elsewhere")
def _(draw: Draw) -> Told:
    index, sign = int(draw.rng.integers(2)), draw.sign()
    size, broken = draw.scaled(lambda size: camera_moved(draw.stand, index, sign * size))

    def hand(scene: Any) -> None:
        import bpy

        rig = bpy.data.objects.new("rig", None)
        rig.location[index] = sign * size
        scene.collection.objects.link(rig)
        scene.camera.parent = rig

    planted = offset(draw, CAMERA, ("east", "north")[index], sign * size, broken, hand)
    (name,) = planted.names
    return replace(planted, names=(replace(name, codes=("has-parent", *name.codes)),))


@kind("cut to a camera that stands elsewhere")
def _(draw: Draw) -> Told:
    index, sign = int(draw.rng.integers(2)), draw.sign()
    count = draw.shot.frame_count
    row = int(draw.rng.integers(1, count))
    on = (np.arange(count) >= row).astype(float)
    size, broken = draw.scaled(lambda size: camera_moved(draw.stand, index, sign * size * on))

    def hand(scene: Any) -> None:
        other = scene.camera.copy()
        add(other, "location", index, sign * size)
        # A copy shares the curves: those of the first one must stay.
        if other.animation_data and other.animation_data.action:
            raise AssertionError("the camera must stand still")
        scene.collection.objects.link(other)
        first = draw.shot.frames[0]
        for frame, camera in ((first, scene.camera), (first + row, other)):
            scene.timeline_markers.new(f"cut {frame}", frame=frame).camera = camera

    read = readings(draw.shot)
    if any(np.ptp(read[CAMERA, axis]) for axis in ("height", "east", "north", "turn")):
        raise UnfitError
    axis = ("east", "north")[index]
    said, unit = read_as(draw, axis, sign * size)
    last = draw.shot.frames[1]
    name = Name(("marker-camera",), CAMERA, frames=(draw.shot.frames[0] + row, last))
    # The shot's own camera is measured, and that stands where it was planned.
    return Told((name,), broken, hand=hand, amount=said, unit=unit, flat=False)


# --- keys


def moving(draw: Draw, *axes: str) -> tuple[str, str, np.ndarray]:
    """Return a part and an axis of it that move, with its track."""
    read = readings(draw.shot)
    found = [
        key
        for key, track in read.items()
        if key[1] in (axes or ("height", "east", "north", "turn")) and np.ptp(track) > 1e-3
    ]
    if not found:
        raise UnfitError
    part, axis = found[draw.rng.integers(len(found))]
    return part, axis, read[part, axis]


def put(draw: Draw, part: str, axis: str, by: np.ndarray) -> Stand:
    """Return the stand with one axis further by ``by`` (F,)."""
    if axis == "turn":
        matrix = np.stack([rotation(UP, angle) for angle in by])
        if part == CAMERA:
            return replace(draw.stand, axes=np.einsum("fij,fjk->fik", matrix, draw.stand.axes))
        column = draw.shot.names.index(part)

        def change(corners: np.ndarray) -> np.ndarray:
            centre = corners.mean(axis=1, keepdims=True)
            return np.einsum("fij,fcj->fci", matrix, corners - centre) + centre

        return with_corners(draw.stand, column, change)
    index = {"east": EAST, "north": NORTH, "height": UP}[axis]
    if part == CAMERA:
        return camera_moved(draw.stand, index, by)
    return moved(draw.stand, draw.shot.names.index(part), index, by)


def curve_of(scene: Any, part: str, axis: str) -> Any:
    """Return the f-curve of one axis."""
    owner = scene.camera if part == CAMERA else level(scene, part)
    path, index = ("rotation_euler", UP) if axis == "turn" else ("location", ("east", "north", "height").index(axis))
    return curves(owner, path, index)[0]


def in_order(stand: Stand) -> None:
    """Raise UnfitError where levels meet: that has a name of its own."""
    heights = stand.corners[..., UP].mean(axis=2)
    if (np.diff(heights, axis=1) >= -1e-6).any() or (heights[:, 0] >= stand.eye[:, UP] - 0.02).any():
        raise UnfitError


def _keys(
    name: str,
    track_of: Callable[[np.ndarray], np.ndarray],
    hand_on: Callable[[Any, np.ndarray, int], None],
    *shapes: str,
) -> None:
    """Enter a kind that changes the keys of an axis that moves, so that it runs along another track."""

    @kind(name, graded=False)
    def plant(draw: Draw) -> Told:
        part, axis, track = moving(draw)
        broken = put(draw, part, axis, track_of(track) - track)
        in_order(broken)
        px = broken.away_from(draw.stand)
        if not np.isfinite(px).all() or px.max() > 1e5:
            raise UnfitError
        own = px.max(axis=1) if part == CAMERA else px[:, draw.shot.names.index(part)]
        codes = tuple(f"{axis}-{shape}" for shape in shapes)
        found = Name((*codes, "curve-not-linear"), part, px=None if px.max() < 0.1 else own)
        first = draw.shot.frames[0]
        hand = lambda scene: hand_on(curve_of(scene, part, axis), track, first)  # noqa: E731
        also = cut_away(draw, broken) | {(part, "curve-not-linear"), (part, axis)}
        return Told((found,), broken, hand=hand, also=also)


def _step(curve: Any, track: np.ndarray, first: int) -> None:
    while len(curve.keyframe_points) > 2:
        curve.keyframe_points.remove(curve.keyframe_points[1])
    for key in curve.keyframe_points:
        key.interpolation = "CONSTANT"
    curve.update()


def _straighten(curve: Any, track: np.ndarray, first: int) -> None:
    while len(curve.keyframe_points) > 2:
        curve.keyframe_points.remove(curve.keyframe_points[1])
    curve.update()


def _mute(curve: Any, track: np.ndarray, first: int) -> None:
    curve.mute = True


def _slide(by: int) -> Callable[[Any, np.ndarray, int], None]:
    def hand(curve: Any, track: np.ndarray, first: int) -> None:
        for key in curve.keyframe_points:
            key.co[0] += by
        curve.update()

    return hand


def _held_but_last(track: np.ndarray) -> np.ndarray:
    return np.append(np.full(len(track) - 1, track[0]), track[-1])


_keys("only end keys left, stepped", _held_but_last, _step, "uneven", "strays", "still", "late")
_keys(
    "only end keys left, straight",
    lambda track: np.linspace(track[0], track[-1], len(track)),
    _straighten,
    "uneven",
    "still",
    "strays",
)
_keys("curve muted", lambda track: np.full(len(track), track[0]), _mute, "still", "uneven", "strays")
_keys("keys slid two frames on", lambda track: np.concatenate([[track[0]] * 2, track[:-2]]), _slide(2), "late", "still")
_keys("keys slid a frame back", lambda track: np.append(track[1:], track[-1]), _slide(-1), "early", "strays")


@kind("one key put elsewhere")
def _(draw: Draw) -> Told:
    part, axis, track = moving(draw)
    row, sign = int(draw.rng.integers(len(track))), draw.sign()
    on = (np.arange(len(track)) == row).astype(float)
    size, broken = draw.scaled(lambda size: put(draw, part, axis, sign * size * on))
    in_order(broken)

    def hand(scene: Any) -> None:
        curve = curve_of(scene, part, axis)
        first = draw.shot.frames[0]
        for at in range(max(row - 1, 0), min(row + 2, len(track))):
            key = curve.keyframe_points.insert(first + at, track[at] + sign * size * (at == row))
            key.interpolation = "LINEAR"
        curve.update()

    said, unit = read_as(draw, axis, sign * size)
    px = broken.away_from(draw.stand)
    own = px.max(axis=1) if part == CAMERA else px[:, draw.shot.names.index(part)]
    name = Name((f"{axis}-uneven", f"{axis}-strays"), part, int(sign), said, unit, own)
    return Told((name,), broken, hand=hand, also=cut_away(draw, broken), amount=said, unit=unit)
