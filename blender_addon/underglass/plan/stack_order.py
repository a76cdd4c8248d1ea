# SPDX-License-Identifier: GPL-3.0-or-later
"""The order of a stack: levels are listed nearest the lens first, whatever has been moved past what."""

from dataclasses import replace

import numpy as np

from ..shot.model import Shot
from .plan_arrays import Tracks


def in_order(shot: Shot, tracks: Tracks) -> tuple[Shot, Tracks]:
    """Return ``shot`` and its ``tracks`` with the levels sorted by their height on the first frame, highest first."""
    order = np.argsort(-tracks.levels["height"][0], kind="stable").tolist()
    if order == sorted(order):
        return shot, tracks
    levels = {axis: track[:, order] for axis, track in tracks.levels.items()}
    return replace(shot, levels=tuple(shot.levels[column] for column in order)), replace(tracks, levels=levels)
