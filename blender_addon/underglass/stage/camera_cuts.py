# SPDX-License-Identifier: GPL-3.0-or-later
"""Which camera films on which frame: markers on the time line can cut to another one.

The shot has one camera. A proof goes by that one all through, and says by name where markers cut to another view.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from . import stack_marks


@dataclass(frozen=True)
class Bound:
    """A marker that cuts to a camera."""

    marker: Any
    frame: int
    camera: Any


def bound_markers(scene: Any) -> list[Bound]:
    """Return the markers that cut to a camera, in order."""
    found = [Bound(marker, marker.frame, marker.camera) for marker in scene.timeline_markers if marker.camera]
    return sorted(found, key=lambda bound: bound.frame)


def camera_on(bound: Sequence[Bound], frame: int, otherwise: Any) -> Any:
    """Return the camera that films on ``frame``: the last that was cut to, before the first marker the first's."""
    if not bound:
        return otherwise
    return next((one.camera for one in reversed(bound) if one.frame <= frame), bound[0].camera)


def shot_camera(scene: Any) -> Any:
    """Return the one camera that a proof goes by: the active one, or where markers cut the one that was built.

    Which camera is active is then a matter of the frame that is open, and says nothing.
    """
    filming = [one.camera for one in bound_markers(scene)]
    if not filming:
        return scene.camera
    built = [camera for camera in (*filming, *stack_marks.cameras(scene)) if stack_marks.CAMERA in camera]
    return built[0] if built else filming[0]


def unbind(scene: Any) -> None:
    """Let the shot's one camera film all through ``scene``; for a copy that nobody works on."""
    camera, bound = shot_camera(scene), bound_markers(scene)
    for one in bound:
        one.marker.camera = None
    if bound:
        scene.camera = camera


@contextmanager
def one_camera(scene: Any) -> Iterator[list[Bound]]:
    """Let the shot's one camera film all through meanwhile; yield the markers that cut."""
    bound, active = bound_markers(scene), scene.camera
    try:
        unbind(scene)
        yield bound
    finally:
        for one in bound:
            one.marker.camera = one.camera
        if scene.camera != active:
            scene.camera = active


def runs_of(bound: Sequence[Bound], frames: Sequence[int], camera: Any) -> list[list[Any]]:
    """Return runs of ``frames``, in order, that a marker lets another camera film: its name, the first and the last."""
    runs: list[list[Any]] = []
    for frame in frames if bound else ():
        filming = camera_on(bound, frame, camera)
        if filming == camera:
            continue
        if runs and runs[-1][0] == filming.name and runs[-1][2] == frame - 1:
            runs[-1][2] = frame
        else:
            runs.append([filming.name, frame, frame])
    return runs
