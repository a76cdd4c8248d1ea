# SPDX-License-Identifier: GPL-3.0-or-later
"""A real distance held on a stand: a stand that is a scale model needs no level to move, whatever the scale is not."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underglass.plan import Plan, make_plan
from underglass.shot import Camera, Focus, Gate, Law, Level, Move, Projection, Shot

# Distances in the world from where the walk begins, and how far it goes toward them and across; metres.
DISTANCES = {"branch": 0.6, "reeds": 0.9, "village": 1.4, "hills": 2.0}
TOWARD, ACROSS = 0.4, 0.15
LENS = Camera(Projection.PERSPECTIVE, (1828, 1332), 2.5, Gate(0.022, 0.016), 0.05, 8.0, Focus(distance=1.2))
FRAMES = (1, 49)


def walked(law: Law = Law.SINE, *, scale: float = 1.0) -> Plan:
    """Return the plan of a stand whose levels stay where they are and whose camera makes the walk, ``scale`` : 1."""
    levels = tuple(
        Level(name, f"{name}.png", 0.3, LENS.height - scale * distance, (40, 30))
        for name, distance in DISTANCES.items()
    )
    moves = (
        Move("camera", "height", *FRAMES, LENS.height, LENS.height - scale * TOWARD, law),
        Move("camera", "east", *FRAMES, 0.0, scale * ACROSS, law),
    )
    return make_plan(Shot("walk", "mm", 24.0, FRAMES, LENS, levels, schedule=moves))


@pytest.mark.parametrize("law", [Law.STEADY, Law.SINE])
def test_on_a_stand_at_the_scale_of_the_world_every_level_grows_by_its_distance_over_what_is_left_of_it(
    law: Law,
) -> None:
    plan = walked(law)
    for column, distance in enumerate(DISTANCES.values()):
        gone = LENS.height - plan.tracks.camera["height"]
        np.testing.assert_allclose(
            plan.size_px[:, column] / plan.size_px[0, column], distance / (distance - gone), rtol=1e-12
        )
    assert (np.ptp(plan.tracks.levels["height"], axis=0) == 0).all()
    assert (np.ptp(plan.tracks.levels["east"], axis=0) == 0).all()


def test_on_such_a_stand_the_axis_point_of_every_level_drifts_as_in_the_world() -> None:
    plan = walked()
    lens_px = LENS.frame_px[0] * plan.image_distance / LENS.gate.width
    for column, distance in enumerate(DISTANCES.values()):
        gone = LENS.height - plan.tracks.camera["height"]
        across = plan.tracks.camera["east"]
        np.testing.assert_allclose(plan.x[:, column], -lens_px * across / (distance - gone), rtol=1e-9, atol=1e-9)


@given(scale=st.floats(0.2, 1.2))
def test_a_scale_model_of_any_scale_shows_the_same_growth(scale: float) -> None:
    full, model = walked(), walked(scale=scale)
    np.testing.assert_allclose(model.size_px / model.size_px[0], full.size_px / full.size_px[0], rtol=1e-9)
    np.testing.assert_allclose(model.x, full.x, rtol=1e-9, atol=1e-6)


# On a stand of finite depth the levels move in place of the world.
@given(
    stand=st.lists(st.floats(0.4, 1.8), min_size=2, max_size=5, unique_by=lambda d: round(d, 2)).map(sorted),
    worlds=st.lists(st.floats(3.0, 400.0) | st.just(math.inf), min_size=5, max_size=5).map(sorted),
    walk=st.floats(0.1, 2.0),
)
def test_levels_that_move_by_the_formula_grow_as_if_the_world_s_distances_were_real(
    stand: list[float], worlds: list[float], walk: float
) -> None:
    trucked = 0.2
    world = worlds[: len(stand)]
    levels, moves = [], [Move("camera", "height", *FRAMES, 2.5, 2.5 - trucked)]
    for index, (near, far) in enumerate(zip(stand, world, strict=True)):
        height = 2.5 - near
        levels.append(Level(f"level {index}", "art.png", 0.3, height, (40, 30)))
        # h(t) = H(t) − d(0)·(1 − Z(t)/D), linear in Z, so a steady walk is a steady move.
        end = 2.5 - trucked - near * (1 - walk / far)
        moves.append(Move(f"level {index}", "height", *FRAMES, height, end))
    plan = make_plan(Shot("walk", "mm", 24.0, FRAMES, LENS, tuple(levels), schedule=tuple(moves)))
    gone = walk * np.linspace(0, 1, FRAMES[1])[:, None]
    np.testing.assert_allclose(plan.size_px / plan.size_px[0], 1 / (1 - gone / np.array(world)), rtol=1e-9)


def test_a_level_at_infinity_that_is_left_standing_grows_and_so_gives_the_stand_away() -> None:
    star = replace(LENS, focus=Focus())
    truck = Move("camera", "height", *FRAMES, 2.5, 2.3)
    plan = make_plan(
        Shot("star", "mm", 24.0, FRAMES, star, (Level("star", "s.png", 0.1, 0.0, (1, 1)),), schedule=(truck,))
    )
    assert plan.size_px[-1, 0] / plan.size_px[0, 0] == pytest.approx(2.5 / 2.3)
