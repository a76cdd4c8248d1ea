# SPDX-License-Identifier: GPL-3.0-or-later
"""The setting of a programme: the world counted in a fitting unit, the lens with its focus, and where art best sits."""

import numpy as np
from numpy.typing import NDArray

from underglass.optics import thin_lens

from ..brief.brief import Brief
from .stand_limits import Setting
from .walk_frames import World

Floats = NDArray[np.float64]


def unit_of(world: World) -> float:
    """Return the world's length that unknowns are counted by: the nearest level, or the walk where all is at infinity.

    So every unknown is of the size of the stand, whatever the world is counted in.
    """
    nearest = float(world.distance.min())
    walk = float(max(np.abs(world.toward).max(), np.abs(world.across).max()))
    return nearest if np.isfinite(nearest) else walk or 1.0


def setting_for(brief: Brief, world: World, *, focal: float, followed: float | None) -> Setting:
    """Return the setting with one lens; ``followed`` is how far the level in focus is where the walk begins, m.

    Where focus follows a level that grows by r, 1/v + 1/u = 1/f gives m(t) = m·r and v(t) = f·(1 + m(t)).
    """
    focus = brief.draft.camera.focus
    extension = np.ones(len(world.frames))
    if focus.level and followed is not None:
        growth = world.growth[:, brief.draft.names.index(focus.level)]
        magnification = focal / (followed - focal)
        image = focal * (1.0 + magnification)
        extension = (1.0 + magnification * growth) / (1.0 + magnification)
    else:
        image = float(thin_lens.image_distance(focal, focus=focus.distance))
    middle = _middles(brief, world, image)
    kept = (brief.draft.names.index(focus.level), followed) if focus.level and followed is not None else None
    return Setting(brief, world, unit_of(world), focal, image, extension, middle, kept)


def _middles(brief: Brief, world: World, image: float) -> Floats:
    """Return where the middle of all that the lens sees of each level is, for each metre of its distance, (L,).

    0 where the brief says the art's place or its width, or where a turned camera has no plain left and right.
    """
    camera = brief.draft.camera
    assert camera.gate is not None
    half = camera.gate.width * camera.squeeze / (2.0 * image) / world.growth
    centre = (world.across[:, None] - world.own) * world.nearness
    middle = ((centre - half).min(axis=0) + (centre + half).max(axis=0)) / 2.0
    free = np.array([not (element.said_width or element.said_east) for element in brief.elements])
    return np.where(free & (camera.turn == 0.0), middle, 0.0)


def cap_of(brief: Brief) -> float:
    """Return the greatest height of the lens where the walk begins, m."""
    if brief.camera_height is not None:
        return brief.camera_height
    assert brief.draft.stand.camera_height is not None
    return brief.draft.stand.camera_height[1]


def turning_frames(setting: Setting) -> tuple[int, ...]:
    """Return the rows of frames that can bind where nothing extends: where a walk is furthest, either way."""
    tracks = [setting.toward, setting.across, *setting.world.own.T]
    return tuple(sorted({0} | {int(pick) for track in tracks for pick in (track.argmin(), track.argmax())}))
