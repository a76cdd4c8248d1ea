# SPDX-License-Identifier: GPL-3.0-or-later
"""What a stand reads where a scene puts it: every axis of every part on every frame, and what no stand could do.

The planned number is kept wherever the scene holds the same to single precision, in which Blender stores it.
"""

from dataclasses import dataclass, replace

import numpy as np

from ..optics import thin_lens
from ..plan.plan_arrays import Floats, Plan, Tracks
from ..plan.planning import make_plan
from ..plan.said_lens import SAID, SaidLens, said_lens
from ..proof.diagnose.stand_axes import Axis, camera_axes, is_mirrored, level_axes
from ..reading.scene_reading import SceneReading
from ..shot.errors import ShotError
from ..shot.model import Drawings, Projection, Shot
from .exposed_drawings import exposed

# A place goes through a few single-precision numbers on its way; each keeps 24 bits.
SAME = 4 * float(np.finfo(np.float32).eps)
# What an artist means to be flat, upright and of one scale is so to this, radians or parts.
FLAT = 1e-5
# No art is as small, m.
NOTHING = 1e-6
# Stops are marked in thirds, 12 % apart; a twentieth of that is the same mark.
SAME_STOP = 0.006
# Beyond this the lens is as good as focused at infinity, which Blender's focus scale does not have, m.
FAR = 999.0


@dataclass(frozen=True)
class Standing:
    """A stand as a scene has it. ``present`` (L,) which levels of the shot are there; ``tracks`` and the widths (L,) m
    are as planned for one that is not. ``field_width`` m is an orthographic camera's; ``focus`` (F,) m and ``f_stop``
    are None where the scene does not say them. ``focused_on`` names the level that Blender's lens is focused on, empty
    without one; ``said`` is the lens that was said of it; ``drawings`` are on the frames
    of the tracks.
    """

    tracks: Tracks
    present: tuple[bool, ...]
    art_width: Floats
    field_width: float
    fps: float
    frame_px: tuple[int, int]
    focus: Floats | None
    f_stop: float | None
    focused_on: str
    said: SaidLens | None
    drawings: Drawings
    remarks: tuple[str, ...]


def over_frames(shot: Shot, plan: Plan, *, frames: tuple[int, int]) -> Plan:
    """Return ``plan`` over other ``frames``: what it says holds before its first and after its last."""
    if frames == shot.frames:
        return plan
    rows = np.clip(np.arange(frames[0], frames[1] + 1), *shot.frames) - shot.frames[0]
    tracks = Tracks(
        np.arange(frames[0], frames[1] + 1),
        {axis: track[rows] for axis, track in plan.tracks.camera.items()},
        {axis: track[rows] for axis, track in plan.tracks.levels.items()},
    )
    return make_plan(replace(shot, frames=frames), tracks=tracks)


def standing_of(plan: Plan, *, reading: SceneReading) -> Standing:
    """Return what the stand reads in ``reading``, which has the frames of ``plan``.

    Raises ShotError, one line, for what no stand could do: a tilted level, a shifted lens, two objects that say they
    are the same level.
    """
    shot = plan.shot
    reading = replace(reading, settings={**reading.settings, "percentage": 100})
    present, widths = [], []
    levels = {axis: track.copy() for axis, track in plan.tracks.levels.items()}
    for column, level in enumerate(shot.levels):
        found = _found(shot, reading, level.name)
        present.append(found is not None)
        widths.append(level.art_width)
        if found is not None:
            axes = _level_axes(plan, reading, column, found)
            for name, track in levels.items():
                track[:, column] = _kept(axes[name])
            widths[-1] = float(_kept(axes["width"])[0])
    said = said_lens(
        reading.camera_facts.get(SAID),
        shot=shot,
        frames=reading.frames,
        lens_mm=reading.camera.lens_mm,
        sensor_mm=reading.camera.sensor_mm[:, 0],
    )
    camera = _camera(plan, reading, levels["height"], said)
    focus, f_stop = _focus(plan, reading, focal=camera["focal"], image=camera.pop("image"))
    if said is not None and f_stop is None and said.f_stop != shot.camera.f_stop:
        f_stop = said.f_stop
    focused_on = reading.camera_facts.get("focused_on", "")
    return Standing(
        tracks=Tracks(plan.frames, camera, levels),
        present=tuple(present),
        art_width=np.array(widths),
        field_width=_field_width(plan, reading),
        fps=_fps(shot, reading),
        frame_px=(int(reading.settings["width"]), int(reading.settings["height"])),
        focus=focus,
        f_stop=f_stop,
        focused_on=focused_on if isinstance(focused_on, str) and focused_on in shot.names else "",
        said=said,
        drawings=exposed(plan, reading=reading),
        remarks=tuple(_remarks(shot, reading)),
    )


def _found(shot: Shot, reading: SceneReading, name: str) -> int | None:
    numbers = [number for number, level in enumerate(reading.levels) if level.level == name]
    if len(numbers) > 1:
        first, second = (reading.levels[number].object_name for number in numbers[:2])
        raise ShotError(
            shot.place(f"level.{name}"),
            f"{first!r} and {second!r} both are this level",
            "delete one, or write a level of its own into the shot file and build",
        )
    return numbers[0] if numbers else None


def _level_axes(plan: Plan, reading: SceneReading, column: int, found: int) -> dict[str, Axis]:
    level = plan.shot.levels[column]
    place = plan.shot.place(f"level.{level.name}")
    with np.errstate(invalid="ignore", divide="ignore"):  # what is scaled to nothing has no directions
        axes = {axis.name: axis for axis in level_axes(plan, reading=reading, column=column, found=found)}
    if not np.isfinite(axes["height"].seen).all():
        raise ShotError(place, "its object is not evaluated", "take it back into the view layer")
    if np.abs(axes["tilt"].seen).max() > FLAT:
        raise ShotError(place, "is tilted", "lay it flat: a glass turns about the vertical only (clear rotation X, Y)")
    if is_mirrored(reading, found=found).any():
        raise ShotError(place, "shows its back", "turn it face up again")
    width, height = axes["width"].seen, axes["art_height"].seen
    if min(width.min(), height.min()) < NOTHING:
        raise ShotError(place, "is scaled to nothing", "give it a scale above 0")
    if np.ptp(width) > FLAT * width[0]:
        raise ShotError(place, "changes its scale over the shot", "a painting keeps its size; move the glass instead")
    if abs(height[0] / width[0] - level.art_px[1] / level.art_px[0]) > FLAT * height[0] / width[0]:
        raise ShotError(place, "is stretched", "scale it alike in X and Y: its height follows from its pixels")
    return axes


def _camera(plan: Plan, reading: SceneReading, heights: Floats, said: SaidLens | None) -> dict[str, Floats]:
    """Return the tracks of the camera's axes, and ``image`` (F,), the image distance that its lens is at.

    ``heights`` (F, L) are where the levels are: of a lens that was changed the level it follows says the focus.
    """
    shot = plan.shot
    place = shot.place("camera")
    if not reading.camera_facts["name"]:
        raise ShotError(place, "the scene has no camera", "make the stand camera the scene's camera")
    parallel = shot.camera.projection is Projection.ORTHOGRAPHIC
    if (reading.camera.parallel == 1.0).any() != parallel or (reading.camera.parallel == 1.0).all() != parallel:
        raise ShotError(place, "has another projection than the shot", f"make it {shot.camera.projection.value} again")
    axes = {axis.name: axis for axis in camera_axes(plan, reading=reading)}
    if np.abs(axes["tilt"].seen).max() > FLAT:
        raise ShotError(place, "is tilted", "let it look straight down: it turns about the vertical only")
    if max(np.abs(axes[name].seen).max() for name in ("shift_x", "shift_y")) > FLAT:
        raise ShotError(place, "has a shifted lens", "set shift X and Y to 0, and pan east or north")
    tracks = {name: _kept(axes[name]) for name in ("height", "east", "north", "turn")}
    if parallel:
        return {**tracks, "focal": plan.tracks.camera["focal"], "image": plan.image_distance}
    lens = axes["lens"]
    if said is not None:
        v = reading.camera.lens_mm / 1000.0
        same_focal = np.abs(plan.tracks.camera["focal"] - said.focal) <= SAME * said.focal
        return {**tracks, "focal": np.where(same_focal, plan.tracks.camera["focal"], said.focal), "image": v}
    v, u = _kept(lens), plan.focus_distance
    if shot.camera.focus.level:
        u = tracks["height"] - heights[:, shot.names.index(shot.camera.focus.level)]
    with np.errstate(invalid="ignore"):
        focal = np.where(np.isinf(u), v, u * v / (u + v))
    same = np.abs(lens.deviation) <= SAME * lens.planned
    return {**tracks, "focal": np.where(same, plan.tracks.camera["focal"], focal), "image": v}


def _kept(axis: Axis) -> Floats:
    """Return what is seen, and where that is what is planned to single precision, the planned number."""
    reach = np.maximum(np.abs(axis.planned).max(initial=0.0), np.abs(axis.seen).max(initial=0.0))
    return np.where(np.abs(axis.deviation) <= SAME * reach + 1e-9, axis.planned, axis.seen)


def _focus(plan: Plan, reading: SceneReading, *, focal: Floats, image: Floats) -> tuple[Floats | None, float | None]:
    """Return the focus distances (F,) and f-stop, where the scene says others than the plan."""
    camera = plan.shot.camera
    blurs = bool(reading.camera_facts.get("depth_of_field", bool(camera.f_stop)))
    if camera.projection is Projection.ORTHOGRAPHIC or not (blurs or camera.f_stop):
        return None, None
    if not blurs:
        return None, 0.0
    u = np.where(reading.camera.focus > FAR, np.inf, reading.camera.focus)
    planned = np.where(plan.focus_distance > FAR, np.inf, plan.focus_distance)
    with np.errstate(invalid="ignore"):
        differs = (np.isinf(u) != np.isinf(planned)) | (np.abs(u - planned) > SAME * planned)
    marked = thin_lens.marked_stop(1.0, focal=focal, image=image)
    f_stop = float(reading.camera.f_stop[0] / marked[0])
    # a lens that was changed makes another f-stop of the same number in Blender: nobody touched that
    kept = thin_lens.marked_stop(camera.f_stop, focal=plan.tracks.camera["focal"], image=plan.image_distance)[0]
    same_stop = bool(camera.f_stop) and (
        abs(f_stop / camera.f_stop - 1.0) <= SAME_STOP
        or abs(float(reading.camera.f_stop[0]) / float(kept) - 1.0) <= SAME_STOP
    )
    return (u if differs.any() else None), (None if same_stop else round(f_stop, 2))


def _field_width(plan: Plan, reading: SceneReading) -> float:
    camera = plan.shot.camera
    if camera.projection is not Projection.ORTHOGRAPHIC:
        return 0.0
    seen = reading.camera.ortho_scale
    if np.ptp(seen) > SAME * camera.field_width:
        raise ShotError(
            plan.shot.place("camera.field_width"), "the orthographic scale is keyed", "let it hold; move the glass"
        )
    same = abs(seen[0] - camera.field_width) <= SAME * camera.field_width
    return camera.field_width if same else float(seen[0])


def _fps(shot: Shot, reading: SceneReading) -> float:
    seen = float(reading.settings["fps"])
    return shot.fps if abs(seen - shot.fps) <= 1e-5 * shot.fps else round(seen, 6)


def _remarks(shot: Shot, reading: SceneReading) -> list[str]:
    """Return what of the scene the files of a shot cannot say, and is left as it is."""
    found = []
    if abs(float(reading.settings["pixel_aspect"]) - shot.camera.squeeze) > FLAT * shot.camera.squeeze:
        found.append("the pixel aspect is not taken back: write camera.squeeze in shot.toml")
    found += [
        f"{level.object_name!r} is marked as a level {level.level!r} that the shot does not have"
        for level in reading.levels
        if level.level not in shot.names
    ]
    return found
