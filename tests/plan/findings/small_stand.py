# SPDX-License-Identifier: GPL-3.0-or-later
"""A small stand whose pictures can be worked out in the head: 2 pixels to the millimetre, a field of 500 by 375 mm.

The camera is orthographic where nothing is said of a lens. `found` gives the findings of a code, or of all.
"""

from dataclasses import replace

from hypothesis import HealthCheck, settings

from underglass.plan import make_plan
from underglass.plan.findings import Finding, find
from underglass.shot import Camera, Focus, Gate, Level, Move, Projection, Shot

PARALLEL = Camera(Projection.ORTHOGRAPHIC, (1000, 750), 1.0, field_width=0.5)
# v = 50·500/450 = 55.6 mm, so 1000 px of a 20 mm gate see 180 mm at half a metre
LENS = Camera(Projection.PERSPECTIVE, (1000, 750), 1.0, Gate(0.02, 0.015), 0.05, focus=Focus(distance=0.5))
NEAR = Level("near", "near.png", 0.1, 0.6, (4000, 3000))
GROUND = Level("ground", "ground.png", 0.6, 0.2, (4000, 3000))
SHOT = Shot("small stand", "mm", 24.0, (1, 49), PARALLEL, (NEAR, GROUND))


# A drawn shot is large, and drawing it is most of the time: on a busy machine that must not count as a fault.
DRAWN = settings(
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much],
)


def shot_of(*moves: Move, levels: tuple[Level, ...] = (NEAR, GROUND), **changes: object) -> Shot:
    return replace(SHOT, schedule=moves, levels=levels, **changes)


def found(shot: Shot, code: str = "") -> list[Finding]:
    return [finding for finding in find(make_plan(shot)) if code in ("", finding.code)]


def the_one(shot: Shot, code: str) -> Finding:
    findings = found(shot, code)
    assert len(findings) == 1, findings
    return findings[0]
