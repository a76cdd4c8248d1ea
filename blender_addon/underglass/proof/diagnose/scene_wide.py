# SPDX-License-Identifier: GPL-3.0-or-later
"""What is wrong with a scene as a whole, and what each part has to be judged by so that it is blamed for itself alone.

A frame of another size and keys that are all late by the same number of frames put everything out; each is one fault.
"""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from ...plan.plan_arrays import Plan, Tracks
from ...reading.scene_reading import SceneReading
from ...shot.model import CAMERA
from ..proof_facts import BLOCK, Fault
from .fault_words import listed, stretch

# What the plan has on every frame.
_BY_FRAME = ("distance", "image_distance", "focus_distance", "scale", "size_px", "x", "y", "turn", "drawing")
_WAYS = {"-late": 1, "-early": -1}


def in_planned_frame(plan: Plan, *, reading: SceneReading) -> SceneReading:
    """Return the reading as it would be in a frame of the planned size: another size is a fault of its own."""
    width, height = plan.shot.camera.frame_px
    frame = {"width": width, "height": height, "percentage": 100, "pixel_aspect": plan.shot.camera.squeeze}
    return replace(reading, settings=reading.settings | frame)


def later(plan: Plan, frames: int) -> Plan:
    """Return the plan with everything made ``frames`` later (earlier below 0), as keys are that were all moved so."""
    count = len(plan.frames)
    rows = np.clip(np.arange(count) - frames, 0, count - 1)
    tracks = Tracks(
        plan.frames,
        {axis: track[rows] for axis, track in plan.tracks.camera.items()},
        {axis: track[rows] for axis, track in plan.tracks.levels.items()},
    )
    return replace(plan, tracks=tracks, **{name: getattr(plan, name)[rows] for name in _BY_FRAME})


def common_delay(faults: Iterable[Fault]) -> int:
    """Return by how many frames several faults say that moves are late, below 0 early; 0 where they do not agree."""
    delays = [delay for fault in faults if fault.severity == BLOCK and (delay := delay_of(fault))]
    return delays[0] if len(delays) > 1 and len(set(delays)) == 1 else 0


def delay_of(fault: Fault) -> int:
    """Return by how many frames a fault says that a move is late, below 0 early; 0 for any other fault."""
    way = next((way for end, way in _WAYS.items() if fault.axis and fault.code.endswith(end)), 0)
    return way * round(fault.amount) if way else 0


def delayed_as_one(faults: Iterable[Fault], *, everything: bool = False) -> Fault:
    """Return one fault for moves that are all late, or early, by the same: the camera's where it is among them.

    ``everything`` tells that all that moves in the scene is among them.
    """
    late = sorted(
        faults, key=lambda fault: (fault.severity != BLOCK, fault.subject != CAMERA, -np.nan_to_num(fault.error_px))
    )
    lead, delay = late[0], delay_of(late[0])
    count = abs(delay)
    frames = min(one.frames[0] for one in late), max(one.frames[1] for one in late)
    named = [f"{one.subject} {one.axis.replace('_', ' ')}" for one in late]
    way = f"{count} frame{'s' if count > 1 else ''} {'late' if delay > 0 else 'early'}"
    largest = max((one.error_px for one in late), key=np.nan_to_num)
    moves = f"all moves of the scene are {way}" if everything else f"moves are {way} together"
    text = f"{moves} ({listed(named)}), {stretch(frames)}: up to {largest:.2f} px on screen"
    return replace(lead, frames=frames, error_px=largest, message=text)
