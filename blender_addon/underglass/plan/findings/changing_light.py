# SPDX-License-Identifier: GPL-3.0-or-later
"""Exposure that changes as the shot runs: a lens drawn out, levels that leave their lamps, fades left open."""

from collections.abc import Iterator

import numpy as np

from ...optics.light_falloff import close_up_factor, illuminance, stops
from ...shot.model import CAMERA, Projection
from ...shot.words import number_text
from ..plan_arrays import Floats, Plan
from .finding import WARN, Finding
from .seen_art import Sight

# Two points of a printer, of which there are twelve or so to a stop; common practice, no source.
MOST_STOPS = 1 / 6
# No more is told of a level that goes dark: a lamp that lies in its plane, or behind a corner.
_MOST_TOLD = 30.0


def find_light(plan: Plan, sight: Sight) -> Iterator[Finding]:
    """Yield changes of exposure by more than a sixth of a stop, and fades that end at neither nothing nor all."""
    yield from _bellows(plan)
    yield from _lamps(plan, sight)
    yield from _fades(plan)


def _bellows(plan: Plan) -> Iterator[Finding]:
    if plan.shot.camera.projection is Projection.ORTHOGRAPHIC:
        return
    factor = close_up_factor(plan.tracks.camera["focal"], image=plan.image_distance)
    least, most = int(factor.argmin()), int(factor.argmax())
    change = float(stops(factor[most] / factor[least]))
    if change <= MOST_STOPS:
        return
    first, last = sorted((least, most))
    says_more = factor[last] > factor[first]
    yield Finding(
        "bellows",
        WARN,
        CAMERA,
        "",
        (int(plan.frames[first]), int(plan.frames[last])),
        change,
        MOST_STOPS,
        "stops",
        f"the lens is drawn {'out' if says_more else 'in'} as focus moves: its close-up factor goes from"
        f" {number_text(float(factor[first]), digits=3)} to {number_text(float(factor[last]), digits=3)}, and the"
        f" picture {'darkens' if says_more else 'brightens'} by {number_text(change, digits=2)} stops",
        f"{'open' if says_more else 'close'} the lens by as much over these frames, or focus at a fixed distance",
    )


def _lamps(plan: Plan, sight: Sight) -> Iterator[Finding]:
    if not plan.shot.lamps:
        return
    light = lit(plan)
    for column, name in enumerate(plan.names):
        there = sight.seen[:, column] & (light[:, column].max() > 0)
        if not there.any():
            continue
        on_level = np.where(there, light[:, column], np.nan)
        least, most = int(np.nanargmin(on_level)), int(np.nanargmax(on_level))
        with np.errstate(divide="ignore", invalid="ignore"):
            change = min(_MOST_TOLD, float(stops(on_level[most]) - stops(on_level[least])))
        if not change > MOST_STOPS:
            continue
        first, last = sorted((least, most))
        brighter = on_level[last] > on_level[first]
        yield Finding(
            "uneven-light",
            WARN,
            name,
            "",
            (int(plan.frames[first]), int(plan.frames[last])),
            change,
            MOST_STOPS,
            "stops",
            f"{name} {'gets brighter' if brighter else 'gets darker'} by {number_text(change, digits=2)} stops between"
            f" frames {plan.frames[first]} and {plan.frames[last]}, going by its lamps",
            "let its lamps ride with it, set them farther away, or correct the exposure of its pass",
        )


def lit(plan: Plan) -> Floats:
    """Return the light on every level from the lamps of the shot where the optical axis meets it, (F, L)."""
    tracks = plan.tracks
    light = np.zeros_like(plan.distance)
    for lamp in plan.shot.lamps:
        aside = np.hypot(tracks.camera["east"] - lamp.east, tracks.camera["north"] - lamp.north)[:, None]
        falls = illuminance(lamp.height - tracks.levels["height"], aside=aside, candela=lamp.candela)
        shines = [lamp.levels is None or name in lamp.levels for name in plan.names]
        light += np.where(shines, falls, 0.0)
    return light


def _fades(plan: Plan) -> Iterator[Finding]:
    for exposure in plan.shot.exposures:
        fractions = [fraction for _, fraction in exposure.fade]
        # one fraction throughout is a pass at part of the light, not a fade
        if len(set(fractions)) < 2:
            continue
        ends = [(frame, fraction) for frame, fraction in (exposure.fade[0], exposure.fade[-1]) if 0 < fraction < 1]
        if not ends:
            continue
        frame, fraction = ends[-1]
        yield Finding(
            "open-fade",
            WARN,
            "",
            "",
            (frame, frame),
            fraction,
            float(round(fraction)),
            "of the pass",
            f"the fade of exposure {exposure.name} stays at {number_text(fraction, digits=3)} on frame {frame}",
            "let it end at 0 or at 1",
        )
