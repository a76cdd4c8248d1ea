# SPDX-License-Identifier: GPL-3.0-or-later
"""Differences: what two plans of a shot do not have in common, in the words of a panel."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ..plan.plan_arrays import Floats, Plan
from ..shot.model import CAMERA, CAMERA_AXES, LEVEL_AXES, Camera, Shot
from .called import called_now
from .restacked_shot import renamed
from .stand_readings import over_frames

# Other units spell the same length a hair otherwise, m.
HAIR = 1e-9


def differences(before: Plan, after: Plan) -> tuple[str, ...]:
    """Return what ``after`` has otherwise than ``before``: axes by part, then levels, then the set-up.

    A level that was renamed is told as that. Where the units are others, a length that is a hair off is the same one.
    """
    frames = before.shot.frames
    before = over_frames(before.shot, before, frames=after.shot.frames)
    old, new = before.shot, after.shot
    called = called_now(old, new)
    kept = sorted(called, key=lambda was: new.names.index(called[was]))
    pairs = [(CAMERA, CAMERA), *((was, called[was]) for was in kept)]
    hair = 0.0 if old.units == new.units else HAIR
    found = [
        f"{now} {axis}"
        for was, now in pairs
        for axis in (CAMERA_AXES if now == CAMERA else LEVEL_AXES)
        if not _same(_track(before, was, axis), _track(after, now, axis), hair)
    ]
    for name, name_now in pairs[1:]:
        was, now = old.levels[old.names.index(name)], new.levels[new.names.index(name_now)]
        found += [f"{name} is called {name_now}"] if name != name_now else []
        found += [f"{name_now} art width"] if not _same(was.art_width, now.art_width, hair) else []
        found += [f"{name_now} art"] if was.art != now.art else []
        found += [f"{name_now} on"] if was.on != now.on else []
    found += [f"{name} removed" for name in old.names if name not in called]
    found += [f"{name} added" for name in new.names if name not in called.values()]
    return (*found, *_set_up(_renamed(replace(old, frames=frames), called), new, hair))


def _renamed(shot: Shot, called: Mapping[str, str]) -> Shot:
    for was, now in called.items():
        shot = renamed(shot, was, new=now) if was != now else shot
    return shot


def _same(one: Floats | float, other: Floats | float, hair: float) -> bool:
    return bool(np.array_equal(one, other) or (np.shape(one) == np.shape(other) and np.abs(one - other).max() <= hair))


def _track(plan: Plan, part: str, axis: str) -> Floats:
    return plan.tracks.camera[axis] if part == CAMERA else plan.tracks.levels[axis][:, plan.names.index(part)]


def _set_up(old: Shot, new: Shot, hair: float) -> tuple[str, ...]:
    both = [name for name in new.names if name in old.names]
    old_camera, new_camera = _as_told(old.camera, new.camera, hair), new.camera
    pairs = {
        "units": (old.units, new.units),
        "order of levels": ([name for name in old.names if name in both], both),
        "frames": (old.frames, new.frames),
        "fps": (old.fps, new.fps),
        "frame size": (old.camera.frame_px, new.camera.frame_px),
        "field width": (old_camera.field_width, new_camera.field_width),
        "gate": (old_camera.gate, new_camera.gate),
        "focus": (old_camera.focus, new_camera.focus),
        "f-stop": (old_camera.f_stop, new_camera.f_stop),
        "drawings": (old.drawings, new.drawings),
        "exposures": (old.exposures, new.exposures),
        "expectations": (old.expectations, new.expectations),
    }
    return tuple(name for name, (before, after) in pairs.items() if before != after)


def _as_told(old: Camera, new: Camera, hair: float) -> Camera:
    """Return ``old`` with the lengths of ``new`` that are no more than a ``hair`` off its own."""
    width = new.field_width if abs(old.field_width - new.field_width) <= hair else old.field_width
    near = old.focus.level == new.focus.level and abs(old.focus.distance - new.focus.distance) <= hair
    return replace(old, field_width=width, focus=new.focus if near else old.focus)
