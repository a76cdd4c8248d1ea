# SPDX-License-Identifier: GPL-3.0-or-later
"""Kinds of fault in a .blend that have no size: what is there or not, what it wears, and settings of the render."""

from collections.abc import Callable
from typing import Any

import numpy as np

from faults.kinds import CAMERA, Draw, Name, Told, UnfitError, kind
from faults.scene_kinds import PERSPECTIVE, UP
from faults.stand import readings
from proving import wrong_scenes
from proving.wrong_scenes import curves, leaf, level
from underglass.shot import Projection

# A level that is not seen where it should be is also told so by what was rendered.
UNSEEN = ("not-seen", "cut-off")
ALL = ("*", "*")


def thing(
    name: str,
    code: str,
    do: Callable[[Any, str, Draw], None],
    *,
    of_scene: str = "",
    also: tuple[tuple[str, str], ...] = (),
    fits: Callable[[Draw], bool] = lambda draw: True,
    **options: Any,
) -> None:
    """Enter a kind that does something to one level, or ``of_scene`` (scene or camera), without a size.

    ``do`` gets the scene, the level's name and the draw; of ``also``, ``!`` stands for that level.
    """

    @kind(name, graded=False, **options)
    def plant(draw: Draw) -> Told:
        if not fits(draw):
            raise UnfitError
        who = draw.shot.names[draw.level()]
        beside = frozenset((who if subject == "!" else subject, word) for subject, word in also)
        beside |= {(who, word) for word in UNSEEN}
        found = Name((code,), of_scene or who)
        return Told((found,), structural=True, hand=lambda scene: do(scene, who, draw), also=beside)


# --- whether it is there


def _hide_for_a_while(scene: Any, who: str, draw: Draw) -> None:
    card, first = level(scene, who), draw.shot.frames[0]
    for frame, hidden in ((first, False), (first + draw.shot.frame_count // 2, True)):
        card.hide_render = hidden
        card.keyframe_insert("hide_render", frame=frame)


def _unseen_by_camera(scene: Any, who: str, draw: Draw) -> None:
    level(scene, who).visible_camera = False


def _hold_out(scene: Any, who: str, draw: Draw) -> None:
    level(scene, who).is_holdout = True


def _own_collection(scene: Any, who: str) -> Any:
    import bpy

    card = level(scene, who)
    own = bpy.data.collections.new("aside")
    scene.collection.children.link(own)
    for collection in card.users_collection:
        collection.objects.unlink(card)
    own.objects.link(card)
    return own


def _hide_collection(scene: Any, who: str, draw: Draw) -> None:
    _own_collection(scene, who).hide_render = True


def _exclude_collection(scene: Any, who: str, draw: Draw) -> None:
    name = _own_collection(scene, who).name
    scene.view_layers[0].layer_collection.children[name].exclude = True


def _double(scene: Any, who: str, draw: Draw) -> None:
    scene.collection.objects.link(level(scene, who).copy())


def _add_unknown(scene: Any, who: str, draw: Draw) -> None:
    copy = level(scene, who).copy()
    copy["underglass_level"] = "stranger"
    scene.collection.objects.link(copy)


def _lose_mark(scene: Any, who: str, draw: Draw) -> None:
    del level(scene, who)["underglass_level"]


thing("level hidden for a while", "hidden", _hide_for_a_while)
thing("level not seen by the camera", "hidden", _unseen_by_camera)
# What is held out takes what lies under it along.
thing("level held out", "hidden", _hold_out, also=(("*", "not-seen"), ("*", "cut-off")))
thing("collection hidden", "hidden", _hide_collection)
thing("collection excluded", "hidden", _exclude_collection)
# Two that stand in one place hide one another by turns.
thing("level doubled", "doubled", _double, also=(("!", "too-coarse"),))
thing("a level that is not of the shot", "unknown-level", _add_unknown, of_scene="stranger")
thing("level no longer marked as one", "missing", _lose_mark, also=(("scene", "in-the-way"),))


def _opaque(scene: Any, who: str, draw: Draw) -> None:
    """Lay a leaf of a third of the field between the lens and the nearest level, in the middle of the frame."""
    read = readings(draw.shot)
    first = draw.shot.names[0]
    # Nearer than half-way the camera cuts things away.
    height = 0.3 * read[CAMERA, "height"].min() + 0.7 * read[first, "height"].max()
    blade = leaf(height)
    width = float(np.ptp(draw.stand.corners[0, 0, :, :2]))
    blade.scale = [max(width, 0.05) / 0.01] * 3
    blade.location[:2] = draw.stand.eye[draw.shot.frame_count // 2, :2] - max(width, 0.05) / 4
    scene.collection.objects.link(blade)


thing(
    "a thing laid before the stack", "in-the-way", _opaque, of_scene="scene", also=(("*", "not-seen"), ("*", "cut-off"))
)


def _swap(name: str, *axes: int) -> None:
    @kind(name, graded=False, levels=(2, 12))
    def plant(draw: Draw) -> Told:
        read = readings(draw.shot)
        words = [("east", "north", "height")[axis] for axis in axes]
        still = [n for n in draw.shot.names if all(np.ptp(read[n, word]) == 0 for word in ("east", "north", "height"))]
        if len(still) < 2:
            raise UnfitError
        one, two = sorted(draw.rng.permutation(len(still))[:2])
        first, second = still[one], still[two]

        def hand(scene: Any) -> None:
            here, there = level(scene, first), level(scene, second)
            for axis in axes:
                here.location[axis], there.location[axis] = there.location[axis], here.location[axis]

        also = frozenset(
            {(second, "swapped"), (second, "order-changed"), *(((n, w)) for n in (first, second) for w in words)}
        )
        # Focus follows a level in the plan, not in the scene, and so does nothing here.
        return Told((Name(("swapped",), first),), structural=True, hand=hand, also=also)


_swap("two levels exchanged", 0, 1, UP)
_swap("heights of two levels exchanged", UP)


@kind("level lifted above its neighbour", graded=False, levels=(2, 12))
def _(draw: Draw) -> Told:
    read = readings(draw.shot)
    column = int(draw.rng.integers(1, len(draw.shot.names)))
    who, over = draw.shot.names[column], draw.shot.names[column - 1]
    if np.ptp(read[who, "height"]) or np.ptp(read[over, "height"]):
        raise UnfitError
    top = read[over, "height"][0]
    above = read[draw.shot.names[column - 2], "height"].min() if column > 1 else read[CAMERA, "height"].min()
    new = top + 0.3 * (above - top)

    def hand(scene: Any) -> None:
        level(scene, who).location.z = new

    also = frozenset({(who, "height"), (who, "clipped")})
    return Told((Name(("order-changed",), who),), structural=True, hand=hand, also=also)


# --- what it wears


def _nodes(scene: Any, who: str) -> Any:
    return level(scene, who).data.materials[0].node_tree


@kind("art of two levels exchanged", graded=False, levels=(2, 12))
def _(draw: Draw) -> Told:
    one, two = (draw.shot.names[index] for index in draw.rng.permutation(len(draw.shot.names))[:2])

    def hand(scene: Any) -> None:
        first, second = (level(scene, name).data.materials for name in (one, two))
        first[0], second[0] = second[0], first[0]

    both = frozenset((name, "art-differs") for name in (one, two))
    return Told(tuple(Name(("art-differs",), name) for name in (one, two)), structural=True, hand=hand, also=both)


def _image(scene: Any, who: str) -> Any:
    return next(node for node in _nodes(scene, who).nodes if node.type == "TEX_IMAGE")


def _other_image(scene: Any, who: str, draw: Draw) -> None:
    import bpy

    from shot_strategies import make_art

    path = make_art(draw.shot.folder / "elsewhere", "other.png", 7, 31)
    _image(scene, who).image = bpy.data.images.load(str(path))


def _lose_image(scene: Any, who: str, draw: Draw) -> None:
    _image(scene, who).image.filepath = "//nowhere/lost.png"


def _brighten(scene: Any, who: str, draw: Draw) -> None:
    glow = next(node for node in _nodes(scene, who).nodes if node.type == "EMISSION")
    glow.inputs["Strength"].default_value *= 1.1


def _unlink(scene: Any, who: str, draw: Draw) -> None:
    tree = _nodes(scene, who)
    tree.links.remove(next(link for link in tree.links if link.to_node.type == "OUTPUT_MATERIAL"))


def _other_colours(scene: Any, who: str, draw: Draw) -> None:
    _image(scene, who).image.colorspace_settings.name = "Non-Color"


def _strip(scene: Any, who: str, draw: Draw) -> None:
    level(scene, who).data.materials.clear()


def _repaint(scene: Any, who: str, draw: Draw) -> None:
    import bpy

    mesh = level(scene, who).data
    mesh.materials.append(bpy.data.materials.new("plain"))
    mesh.polygons[0].material_index = len(mesh.materials) - 1


def _repeat(scene: Any, who: str, draw: Draw) -> None:
    _image(scene, who).extension = "EXTEND" if _image(scene, who).extension != "EXTEND" else "REPEAT"


thing("an image of another size", "art-differs", _other_image)
thing("image file lost", "art-missing", _lose_image)
thing("material brighter", "art-differs", _brighten)
thing("material cut off", "art-differs", _unlink)
thing("image read in other colours", "art-differs", _other_colours)
thing("material taken off", "art-missing", _strip)
thing("another material on the glass", "art-missing", _repaint)
thing("image repeated beyond its edge", "art-differs", _repeat)


def _mirror(scene: Any, who: str, draw: Draw) -> None:
    side = int(draw.rng.integers(2))
    for corner in level(scene, who).data.uv_layers[0].data:
        corner.uv[side] = 1 - corner.uv[side]


def _turn_over(scene: Any, who: str, draw: Draw) -> None:
    level(scene, who).scale[0] = -1.0


thing("texture mirrored", "mirrored", _mirror, also=(("!", "turn"),))
thing("level turned over", "mirrored", _turn_over, also=(("!", "turn"),))


def _halve(scene: Any, who: str, draw: Draw) -> None:
    mesh = level(scene, who).data
    for loop, uv in zip(mesh.loops, mesh.uv_layers.active.data, strict=True):
        if uv.uv[0] > 0.5:
            mesh.vertices[loop.vertex_index].co.x = 0.0


thing("glass squeezed to half", "corner-moved", _halve, also=(("!", "east"), ("!", "north")))


# --- drawings


def _has_run(draw: Draw) -> bool:
    return any(_steps(draw, name) for name in draw.shot.names)


def _steps(draw: Draw, name: str) -> bool:
    from faults.schedule_kinds import shown

    return name in draw.shot.drawings.levels and len(set(shown(draw.shot, name))) > 1


@kind("drawings switched late", graded=False)
def _(draw: Draw) -> Told:
    names = [name for name in draw.shot.names if _steps(draw, name)]
    if not names:
        raise UnfitError
    who, first = str(draw.rng.choice(names)), draw.shot.frames[0]

    def hand(scene: Any) -> None:
        for curve in curves(level(scene, who), '["drawing"]'):
            wrong_scenes.change_keys(curve, lambda frame, value: (frame + (frame > first), value))

    return Told((Name(("drawing",), who),), structural=True, hand=hand)


@kind("drawings no longer switched", graded=False)
def _(draw: Draw) -> Told:
    names = [name for name in draw.shot.names if _steps(draw, name)]
    if not names:
        raise UnfitError
    who = str(draw.rng.choice(names))

    def hand(scene: Any) -> None:
        card = level(scene, who)
        curves(card, '["drawing"]')[0].mute = True
        card["drawing"] = 0

    return Told((Name(("drawing",), who),), structural=True, hand=hand, also=frozenset({(who, "curve-not-linear")}))


# --- the camera


def camera_thing(name: str, code: str, do: Callable[[Any, Draw], None], *also: tuple[str, str], **options: Any) -> None:
    """Enter a kind that does something to the camera."""
    thing(
        name,
        code,
        lambda scene, who, draw: do(scene, draw),
        of_scene=CAMERA,
        also=(*also, ("*", "not-seen"), ("*", "cut-off")),
        **options,
    )


def _delete_camera(scene: Any, draw: Draw) -> None:
    import bpy

    bpy.data.objects.remove(scene.camera)


def _go_parallel(scene: Any, draw: Draw) -> None:
    scene.camera.data.type = "ORTHO"
    scene.camera.data.ortho_scale = 0.3


def _go_perspective(scene: Any, draw: Draw) -> None:
    scene.camera.data.type = "PERSP"


def _focus_nearer(scene: Any, draw: Draw) -> None:
    data = scene.camera.data
    data.dof.focus_distance *= 0.75
    for curve in curves(data, "dof.focus_distance"):
        wrong_scenes.change_keys(curve, lambda frame, value: (frame, 0.75 * value))


def _open_up(scene: Any, draw: Draw) -> None:
    data = scene.camera.data
    data.dof.aperture_fstop *= 0.7
    for curve in curves(data, "dof.aperture_fstop"):
        wrong_scenes.change_keys(curve, lambda frame, value: (frame, 0.7 * value))


def _stopped(draw: Draw) -> bool:
    return draw.shot.camera.f_stop > 0


def _fit_upright(scene: Any, draw: Draw) -> None:
    scene.camera.data.sensor_fit = "VERTICAL"


def _fit_shows(draw: Draw) -> bool:
    camera = draw.shot.camera
    if camera.gate is None:
        return camera.frame_px[0] != camera.frame_px[1]
    squeezed = camera.gate.width * camera.squeeze / (camera.gate.height * camera.squeeze)
    return abs(squeezed / (camera.frame_px[0] * camera.squeeze / camera.frame_px[1]) - 1) > 0.05


camera_thing("camera deleted", "no-camera", _delete_camera)
camera_thing("camera made orthographic", "projection", _go_parallel, (CAMERA, "*"), projection=Projection.PERSPECTIVE)
camera_thing(
    "camera made perspective", "projection", _go_perspective, (CAMERA, "*"), projection=Projection.ORTHOGRAPHIC
)
# Beyond a kilometre Blender's focus is as good as infinity, and three quarters of it are not.
camera_thing("focused nearer", "focus", _focus_nearer, fits=_stopped, projection=PERSPECTIVE)
camera_thing("lens opened up", "f-stop", _open_up, fits=_stopped, projection=PERSPECTIVE)


@kind("sensor fitted upright", graded=False)
def _(draw: Draw) -> Told:
    if not _fit_shows(draw):
        raise UnfitError
    codes = tuple(
        f"{axis}-{shape}" for axis in ("lens", "field") for shape in ("offset", "too-far", "strays", "uneven")
    )
    return Told(
        (Name((*codes, "no-breathing", "sensor-fit"), CAMERA),),
        structural=True,
        hand=lambda scene: _fit_upright(scene, draw),
    )


def _clip(name: str, what: str, share: float) -> None:
    @kind(name, graded=False)
    def plant(draw: Draw) -> Told:
        depth = draw.stand.eye[:, None, UP] - draw.stand.corners[..., UP].mean(axis=2)
        reach = float(depth.max() * share if what == "clip_end" else depth.min() * share)
        gone = (depth > reach * 1.0001).any(axis=0) if what == "clip_end" else (depth < reach * 0.9999).any(axis=0)
        names = [draw.shot.names[column] for column in np.flatnonzero(gone)]

        def hand(scene: Any) -> None:
            if what == "clip_start":
                scene.camera.data.clip_end = max(scene.camera.data.clip_end, reach * 3)
            setattr(scene.camera.data, what, reach)

        also = frozenset(
            (name, word) for name in draw.shot.names for word in ("clipped", "not-seen", "cut-off") if name in names
        )
        return Told(tuple(Name(("clipped",), name) for name in names), structural=True, hand=hand, also=also)


_clip("clipped at the far end", "clip_end", 0.97)
_clip("clipped at the near end", "clip_start", 1.03)


# --- settings of the render


def setting(name: str, code: str, do: Callable[[Any, Draw], None], *also: tuple[str, str], **options: Any) -> None:
    """Enter a kind that changes the settings of the scene."""
    thing(name, code, lambda scene, who, draw: do(scene, draw), of_scene="scene", also=also, **options)


def render(**values: Any) -> Callable[[Any, Draw], None]:
    """Return what sets properties of the render."""

    def do(scene: Any, draw: Draw) -> None:
        for what, value in values.items():
            setattr(scene.render, what, value)

    return do


def _is_fast(draw: Draw) -> bool:
    """Return whether some level moves by pixels from a frame to the next."""
    steps = np.linalg.norm(np.diff(draw.stand.seen().mean(axis=2), axis=0), axis=-1)
    return bool(steps.max(initial=0.0) > 3.0)


def _percentage(scene: Any, draw: Draw) -> None:
    scene.render.resolution_percentage = 50


def _pixels(scene: Any, draw: Draw) -> None:
    scene.render.pixel_aspect_x *= 1.05


def _region(scene: Any, draw: Draw) -> None:
    scene.render.use_border = True
    scene.render.border_max_x = 0.5


def _sizes(scene: Any, draw: Draw) -> None:
    scene.render.resolution_x += 2


def _rate(scene: Any, draw: Draw) -> None:
    scene.render.fps += 1


def _stretch(scene: Any, draw: Draw) -> None:
    scene.render.frame_map_new = 110


def _range(scene: Any, draw: Draw) -> None:
    scene.frame_start += 1


def _step(scene: Any, draw: Draw) -> None:
    scene.frame_step = 2


def _exposure(scene: Any, draw: Draw) -> None:
    scene.view_settings.exposure = 0.3


def _gamma(scene: Any, draw: Draw) -> None:
    scene.view_settings.gamma = 1.1


def _film(scene: Any, draw: Draw) -> None:
    scene.cycles.film_exposure = 1.2


def _light(scene: Any, draw: Draw) -> None:
    scene.cycles.transparent_max_bounces = len(draw.shot.levels) - 1


def _layer_off(scene: Any, draw: Draw) -> None:
    scene.view_layers[0].use = False


def _stereo(scene: Any, draw: Draw) -> None:
    scene.render.use_multiview = True


PIXELS = (("*", "not-seen"), ("*", "cut-off"))
setting("another width in pixels", "frame-size", _sizes, *PIXELS)
setting("half the resolution", "frame-size", _percentage, *PIXELS)
setting("pixels of another shape", "pixel-aspect", _pixels, *PIXELS)
setting("render region", "border", _region, *PIXELS)
setting("another rate", "frame-rate", _rate)
# Keys fall on other frames, and nobody who moves is to blame.
setting("time stretched", "time-stretched", _stretch)
setting("range begins late", "frame-range", _range)
setting("every second frame only", "frame-step", _step)
# Where nothing is fast it changes no pixel.
setting("motion blur", "setting-motion-blur", render(use_motion_blur=True), fits=_is_fast)
setting("stereo", "setting-stereo", _stereo)
setting("view exposure", "colour-management", _exposure)
setting("view gamma", "colour-management", _gamma)
setting("film exposure", "setting-film-exposure", _film)
setting("light cut short", "light-cut-short", _light, *PIXELS, levels=(3, 12))
setting("view layer off", "layer-off", _layer_off, ("scene", "setting-layers-rendered"), *PIXELS)
