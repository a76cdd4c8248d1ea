"""Differences: what two plans of a shot do not have in common, in the words of a panel."""

from dataclasses import replace

import numpy as np

from ..plan.model import Floats, Plan
from ..shot.model import CAMERA, CAMERA_AXES, LEVEL_AXES, Shot
from .standing import over_frames


def differences(before: Plan, after: Plan) -> tuple[str, ...]:
    """Return what ``after`` has otherwise than ``before``: axes by part, then levels, then the set-up."""
    frames = before.shot.frames
    before = over_frames(before.shot, before, frames=after.shot.frames)
    both = [name for name in after.names if name in before.names]
    found = [f"{CAMERA} {axis}" for axis in CAMERA_AXES if _moved(before, after, CAMERA, axis)]
    found += [f"{name} {axis}" for name in both for axis in LEVEL_AXES if _moved(before, after, name, axis)]
    old, new = before.shot, after.shot
    for name in both:
        was, now = (shot.levels[shot.names.index(name)] for shot in (old, new))
        found += [f"{name} art width"] if was.art_width != now.art_width else []
        found += [f"{name} art"] if was.art != now.art else []
        found += [f"{name} on"] if was.on != now.on else []
    found += [f"{name} removed" for name in old.names if name not in new.names]
    found += [f"{name} added" for name in new.names if name not in old.names]
    return (*found, *_set_up(replace(old, frames=frames), new))


def _moved(before: Plan, after: Plan, part: str, axis: str) -> bool:
    return not np.array_equal(_track(before, part, axis), _track(after, part, axis))


def _track(plan: Plan, part: str, axis: str) -> Floats:
    return plan.tracks.camera[axis] if part == CAMERA else plan.tracks.levels[axis][:, plan.names.index(part)]


def _set_up(old: Shot, new: Shot) -> tuple[str, ...]:
    both = [name for name in new.names if name in old.names]
    pairs = {
        "order of levels": ([name for name in old.names if name in both], both),
        "frames": (old.frames, new.frames),
        "fps": (old.fps, new.fps),
        "frame size": (old.camera.frame_px, new.camera.frame_px),
        "field width": (old.camera.field_width, new.camera.field_width),
        "gate": (old.camera.gate, new.camera.gate),
        "focus": (old.camera.focus, new.camera.focus),
        "f-stop": (old.camera.f_stop, new.camera.f_stop),
        "drawings": (old.drawings, new.drawings),
        "exposures": (old.exposures, new.exposures),
        "expectations": (old.expectations, new.expectations),
    }
    return tuple(name for name, (before, after) in pairs.items() if before != after)
