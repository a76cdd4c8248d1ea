# SPDX-License-Identifier: GPL-3.0-or-later
"""Made-up plans and proofs for the tests of the reports: five levels, 48 frames, a truck in with a pan.

The arrays are put together by hand, so that nothing here leans on the planner or the judge.
"""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from underglass.plan.plan_arrays import Plan, Tracks
from underglass.proof.proof_facts import BLOCK, FAIL, NOTE, PASS, Fault, Look, Measurement, Proof
from underglass.shot.model import Camera, Focus, Gate, Level, Projection, Shot

INCH = 0.0254
FRAMES = np.arange(1, 49)
TEST_FRAMES = (1, 9, 17, 25, 33, 41, 48)
TOLERANCE_PX = 0.05
NAMES = ("near branches", "reeds", "boat", "far hills", "sky")
# Names that break what does not take care: of HTML, of CSV, of spreadsheets, of a drawing, of a terminal.
HOSTILE = ("<script>alert('&')</script>", '"a,b"', '=cmd()|" /C calc"!A0', "Ближние ветви", "x" * 300)
HEIGHTS_IN = np.array([30.0, 24.0, 22.5, 14.0, 10.0])
WIDTHS_IN = np.array([9.0, 14.0, 5.0, 24.0, 30.0])
EASTS_IN = np.array([-1.0, 0.5, 1.5, 0.0, 0.0])
IMAGE_DISTANCE = 0.0541
# A frame that no shot here comes to.
NEVER = 10**6


def shot(names: tuple[str, ...] = NAMES, *, units: str = "in") -> Shot:
    """Return the shot; levels nearest the lens first."""
    levels = tuple(
        Level(name, f"art/{number}.png", width * INCH, height * INCH, (1600, 1200), east=east * INCH)
        for number, (name, width, height, east) in enumerate(zip(names, WIDTHS_IN, HEIGHTS_IN, EASTS_IN, strict=True))
    )
    camera = Camera(
        Projection.PERSPECTIVE,
        (1828, 1332),
        48.0 * INCH,
        gate=Gate(0.022, 0.016, "academy-35"),
        focal=0.050,
        f_stop=8.0,
        focus=Focus(distance=26.0 * INCH),
    )
    return Shot("Estuary at first light", units, 24.0, (1, 48), camera, levels)


def plan(names: tuple[str, ...] = NAMES, *, units: str = "in") -> Plan:
    """Return the plan: the camera comes down 8 in and goes 2 in east, the sky rides with it, the reeds turn."""
    way = (1 - np.cos(np.pi * np.linspace(0.0, 1.0, len(FRAMES)))) / 2
    zero = np.zeros(len(FRAMES))
    camera = {
        "height": (48.0 - 8.0 * way) * INCH,
        "east": 2.0 * way * INCH,
        "north": zero,
        "turn": zero,
        "focal": zero + 0.050,
    }
    rides = np.array([0.0, 0.0, 0.0, 0.0, 1.0])
    levels = {
        "height": (HEIGHTS_IN - rides * 8.0 * way[:, None]) * INCH,
        "east": (EASTS_IN + rides * 2.0 * way[:, None]) * INCH,
        "north": np.zeros((len(FRAMES), 5)) + np.array([0.0, -1.0, 0.0, 0.0, 0.0]) * INCH,
        "turn": np.outer(way, np.radians([0.0, 3.0, 0.0, 0.0, 0.0])),
    }
    distance = camera["height"][:, None] - levels["height"]
    scale = 1828 * IMAGE_DISTANCE / (0.022 * distance)
    return Plan(
        shot=shot(names, units=units),
        tracks=Tracks(FRAMES, camera, levels),
        distance=distance,
        image_distance=zero + IMAGE_DISTANCE,
        focus_distance=zero + 26.0 * INCH,
        scale=scale,
        size_px=scale * WIDTHS_IN * INCH,
        x=scale * (levels["east"] - camera["east"][:, None]),
        y=scale * levels["north"],
        turn=levels["turn"],
        drawing=np.zeros((len(FRAMES), 5), dtype=np.int64),
        drawings=((),) * 5,
    )


def passing(names: tuple[str, ...] = NAMES) -> Proof:
    """Return a proof that passes; the nearest level has left the frame on the last test frame, as planned."""
    return proof_of(plan(names), gone_by=TEST_FRAMES[-1])


def failing(names: tuple[str, ...] = NAMES) -> Proof:
    """Return a proof that fails: the second level is too high from frame 20 on, the third is gone from frame 41 on."""
    second, third = names[1], names[2]
    faults = (
        Fault(
            "height-offset",
            BLOCK,
            second,
            "height",
            (20, 48),
            0.25,
            "in",
            4.31,
            f"{second} is 0.25 in too high from frame 20 to 48: up to 4.31 px on screen",
        ),
        Fault(
            "hidden", BLOCK, third, "", (41, 48), 8.0, "frames", float("nan"), f"{third} is hidden on frames 41 to 48"
        ),
        Fault(
            "other-things",
            NOTE,
            "scene",
            "",
            (1, 48),
            1.0,
            "objects",
            0.0,
            "the scene also renders what is no level of the shot: Cube",
        ),
    )
    return proof_of(plan(names), off={1: 20}, gone={2: 41}, gone_by=TEST_FRAMES[-1], faults=faults)


def proof_of(
    made: Plan,
    *,
    frames: Sequence[int] = TEST_FRAMES,
    off: dict[int, int] | None = None,
    gone: dict[int, int] | None = None,
    gone_by: int | None = None,
    faults: tuple[Fault, ...] = (),
) -> Proof:
    """Return a proof of ``made`` with a little noise on it.

    ``off`` and ``gone`` give, by column, the frame from which a level is too large or not there; the nearest level is
    out of the frame, as planned, on frame ``gone_by``.
    """
    random = np.random.default_rng(1977)
    off, gone = off or {}, gone or {}
    scene_error = np.abs(random.normal(0.0, 2e-4, made.size_px.shape))
    for column, first in off.items():
        scene_error[made.frames >= first, column] += 4.3
    for column, first in gone.items():
        scene_error[made.frames >= first, column] = np.nan
    measurements = []
    for frame in frames:
        for column in range(len(made.names)):
            missing = frame >= gone.get(column, NEVER)
            if missing or (column == 0 and frame == gone_by):
                measurements.append(_not_seen(made, frame, column, planned=not missing))
            else:
                growth = 1.0035 if frame >= off.get(column, NEVER) else 1.0
                measurements.append(_seen(made, frame, column, growth, random.normal(0.0, 0.0012, 3)))
    return Proof(
        plan=made,
        shot_file=Path("shots/estuary/shot.toml"),
        scene_file=None,
        blender="5.0.1",
        engine="CYCLES",
        tolerance_px=TOLERANCE_PX,
        verdict=FAIL if faults else PASS,
        checked_frames=tuple(made.frames.tolist()),
        rendered_frames=tuple(frames),
        measurements=tuple(measurements),
        faults=faults,
        scene_error_px=scene_error,
        pictures={frame: Path("frames") / f"frame-{frame:04d}.png" for frame in frames},
        seconds={"plan": 0.01, "start and build": 2.4, "all": 11.8},
    )


def _planned(made: Plan, frame: int, column: int) -> Look:
    at = frame - int(made.frames[0]), column
    return Look(float(made.size_px[at]), float(made.x[at]), float(made.y[at]), float(np.degrees(made.turn[at])))


def _not_seen(made: Plan, frame: int, column: int, *, planned: bool) -> Measurement:
    remark = "it is out of the frame, as planned" if planned else "nothing of it is in the rendered frame"
    verdict = PASS if planned else FAIL
    look = _planned(made, frame, column)
    return Measurement(frame, made.names[column], look, None, None, None, verdict, False, remark)


def _seen(made: Plan, frame: int, column: int, growth: float, noise: np.ndarray) -> Measurement:
    look = _planned(made, frame, column)
    seen = Look(look.size_px * growth + noise[0], look.x * growth + noise[1], look.y * growth + noise[2], look.turn)
    error = float(np.hypot(seen.x - look.x, seen.y - look.y) + abs(seen.size_px - look.size_px) * 0.6)
    verdict = PASS if growth == 1.0 else FAIL
    return Measurement(frame, made.names[column], look, seen, error, 0.0024, verdict, True)
