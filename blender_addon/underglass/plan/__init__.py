# SPDX-License-Identifier: GPL-3.0-or-later
"""The plan room: what a shot should look like, frame by frame and level by level."""

from .plan_arrays import Plan, Tracks
from .planning import corners_px, make_plan
from .tracks import make_tracks

__all__ = ["Plan", "Tracks", "corners_px", "make_plan", "make_tracks"]
