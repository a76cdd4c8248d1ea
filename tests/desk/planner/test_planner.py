# SPDX-License-Identifier: GPL-3.0-or-later
"""The planner: the stack shows the world's growth and drift, within the limits, with the least that has to move."""

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from desk.briefs import brief_in, level
from underglass.plan import Plan, make_plan
from underglass.plan.expectations_held import unmet_expectations
from underglass.shot import FrameTable, Level, Shot, ShotError
from underglass_headless.desk.planner import Answer, Clash, Prefer, plan_brief
from underglass_headless.desk.planner.plan_in_words import level_facts
from underglass_headless.desk.planner.solve_stack import MOST_ITERATIONS
from underglass_headless.desk.planner.walk_frames import travel_of

MM = 0.001
CLOSE_PX = 1e-6
FRAMES = (1, 49)


def planned(folder: Path, *, prefer: Prefer = Prefer.MOVERS, **said) -> Answer:
    answer = plan_brief(brief_in(folder, **said), prefer=prefer)
    assert isinstance(answer, Answer), answer
    return answer


def looks(shot: Shot) -> tuple[Plan, np.ndarray]:
    """Return the plan of a shot, and where the point of every level is that began on the axis, (F, L) px right."""
    plan = make_plan(shot)
    east = plan.tracks.levels["east"] - plan.tracks.camera["east"][:, None]
    return plan, plan.scale * (east - east[0])


# Two near levels can rest, at a scale of 50 mm to the metre; or the hills, at a smaller one, and then all three others
# move, but less far altogether.
TORN = {
    "levels": [level("leaf", 4), level("gate", 5), level("hills", 40), level("star", "infinity")],
    "toward": [[1, 0], [49, 1]],
    "camera": {"height": 1000},
    "stand": {"level_height": [0, 800], "least_gap": 40},
}

WIDE = {"camera_height": [300, 3000], "level_height": [0, 3000], "least_gap": 2}

# -- a case worked by hand ---------------------------------------------------------------------------------------------
#
# A gate 4 m away and the star; a walk of 1 m toward and half a metre east, at constant speed. The camera begins at
# 1000 mm, no level is above 800 mm nor below the bed, glasses are 100 mm apart at least.
#   The gate rests if it is 4κ from the lens; the star rides with it and travels κ·1 m down and κ·0.5 m east.
#   Least travel: the smallest κ, so the gate as near as it may be: 1000 − 800 = 200 mm = κ·4 m, κ = 50 mm to the metre.
#   The camera trucks 50 mm and pans 25; the star travels 75. It is as deep as there is room: on the last frame the lens
#   is at 950 and the star on the bed, so it is 950 mm from the lens and begins at 50.
#   The gate grows by 200/150 = 4/3. One mm more of level_height saves a quarter of a mm of κ·m, times 1.5 m of walk.
TWO = {
    "levels": [level("gate", 4), level("star", "infinity")],
    "toward": [[1, 0], [49, 1]],
    "across": [[1, 0], [49, 0.5]],
    "camera": {"height": 1000},
    "stand": {"level_height": [0, 800], "least_gap": 100},
}


def test_two_levels_come_out_as_worked_by_hand(tmp_path):
    answer = planned(tmp_path, **TWO)
    stack, tracks = answer.stack, make_plan(answer.shot).tracks
    assert stack.scale == pytest.approx(50 * MM)
    np.testing.assert_allclose(stack.distance, [200 * MM, 950 * MM])
    assert stack.rests.tolist() == [True, False]
    np.testing.assert_allclose(tracks.camera["height"][[0, -1]], [1000 * MM, 950 * MM])
    np.testing.assert_allclose(tracks.camera["east"][[0, -1]], [0.0, 25 * MM])
    np.testing.assert_allclose(tracks.levels["height"][[0, -1]], [[800 * MM, 50 * MM], [800 * MM, 0.0]], atol=1e-12)
    plan, _ = looks(answer.shot)
    np.testing.assert_allclose(plan.size_px[-1] / plan.size_px[0], [4 / 3, 1.0], rtol=1e-12)
    price = {binding.key: binding.price for binding in answer.stack.binding}
    assert price["stand.level_height:most"] == pytest.approx(1.5 / 4)


def test_what_would_set_a_level_at_rest_does(tmp_path):
    answer = planned(tmp_path / "a", **TORN)
    assert answer.stack.rests.tolist() == [True, True, False, False]
    free = level_facts(answer)[2]["to_rest"]
    levels = [*TORN["levels"][:2], level("hills", free["distance"]), TORN["levels"][3]]
    assert planned(tmp_path / "b", **(TORN | {"levels": levels})).stack.rests.tolist() == [True, True, True, False]
    deeper = TORN | {
        "camera": {"height": 1000 + free["lower"]},
        "stand": TORN["stand"] | {"level_height": [0, 800 + free["lower"]]},
    }
    assert planned(tmp_path / "c", **deeper).stack.rests.tolist() == [True, True, True, False]


def test_the_moves_have_the_laws_of_the_walk(tmp_path):
    legs = [
        {"first": 1, "last": 30, "to": 0.5, "slow_out": 8, "slow_in": 4},
        {"first": 30, "last": 49, "to": 1, "law": "sine"},
    ]
    answer = planned(tmp_path, **(TWO | {"toward": legs}))
    moves = [move for move in answer.shot.schedule if (move.part, move.axis) == ("star", "height")]
    assert [(move.first, move.last, move.law.value, move.slow_out) for move in moves] == [
        (1, 30, "steady", 8),
        (30, 49, "sine", 0),
    ]
    assert answer.error_px.max() < CLOSE_PX


def test_a_walk_by_equal_ratios_about_a_level_makes_it_grow_by_as_much_every_frame(tmp_path):
    legs = [{"first": 1, "last": 49, "to": 2, "law": "ratio", "about": "gate"}]
    answer = planned(tmp_path, **(TWO | {"toward": legs, "across": None}))
    size = make_plan(answer.shot).size_px[:, 0]
    np.testing.assert_allclose(size[1:] / size[:-1], 2 ** (1 / 48), rtol=1e-9)
    assert answer.error_px.max() < CLOSE_PX


def test_where_focus_follows_a_level_the_others_make_up_for_the_lens(tmp_path):
    answer = planned(tmp_path, **(TWO | {"camera": {"height": 1000, "focus": "gate"}}))
    assert np.ptp(answer.stack.extension) > 0.01
    assert answer.stack.solved.iterations > 1
    assert isinstance(answer.shot.schedule, FrameTable)
    assert not answer.stack.rests.any()
    assert answer.error_px.max() < CLOSE_PX


def test_an_element_that_goes_across_by_itself_drifts_as_the_world_has_it(tmp_path):
    levels = [level("boat", 4, across=[[1, 0], [49, 1.5]]), level("star", "infinity")]
    answer = planned(tmp_path, **(TWO | {"levels": levels}))
    plan, x = looks(answer.shot)
    lens = plan.scale[0, 0] * plan.distance[0, 0]
    assert x[-1, 0] == pytest.approx(lens * (1.5 - 0.5) / (4 - 1), abs=CLOSE_PX)


def test_the_plan_says_what_the_picture_must_do_and_it_does(tmp_path):
    said = TWO | {"levels": [level("leaf", 3), level("gate", 4), level("star", "infinity")]}
    answer = planned(tmp_path, **said)
    told = {(one.level, one.holds, one.grows, one.drift_ratio) for one in answer.shot.expectations}
    assert ("star", True, None, None) in told
    assert ("gate", False, 1.33333, None) in told
    assert ("leaf", False, None, 1.5) in told  # (4 − 1)/(3 − 1)
    assert unmet_expectations(make_plan(answer.shot), hold_px=0.01) == []


def test_the_walk_must_end_before_what_it_goes_toward(tmp_path):
    with pytest.raises(ShotError, match=r"gate.*is 4 m away, and on frame 37"):
        planned(tmp_path, **(TWO | {"toward": [[1, 0], [25, 2], [49, 6]]}))


def test_where_two_stacks_take_turns_with_the_focus_one_between_them_is_found(tmp_path):
    levels = [level("leaf", 59.58), level("gate", 932.04), level("house", 954.45), level("hills", 1299.98)]
    answer = planned(
        tmp_path,
        levels=levels,
        toward=[[1, 0], [49, 26.35]],
        across=[[1, 0], [49, 3]],
        camera={"focus": "house"},
        stand={"camera_height": [300, 1360], "level_height": [0, 3000], "least_gap": 73},
    )
    assert answer.stack.solved.iterations > MOST_ITERATIONS
    plan = make_plan(answer.shot)
    assert answer.stack.image == pytest.approx(plan.image_distance[0], rel=1e-12)
    np.testing.assert_allclose(answer.stack.extension, plan.image_distance / plan.image_distance[0], rtol=1e-9)
    assert answer.error_px.max() < CLOSE_PX


def test_a_lens_focused_almost_at_its_focal_length_still_agrees_with_its_focus(tmp_path):
    said = {"levels": [level("gate", 6), level("star", "infinity")], "toward": [[1, 0], [49, 3]], "stand": WIDE}
    answer = planned(tmp_path, camera={"focus": "gate"}, **said)
    assert answer.error_px.max() < CLOSE_PX


# -- what is preferred -------------------------------------------------------------------------------------------------


def counts(answer: Answer) -> tuple[int, float]:
    tracks = make_plan(answer.shot).tracks.levels
    travel = sum(
        travel_of(tracks[axis][:, column]) for axis in ("height", "east") for column in range(len(answer.shot.levels))
    )
    return int(np.count_nonzero(~answer.stack.rests)), travel


def test_fewest_levels_that_move_and_least_travel_are_each_had_where_they_are_preferred(tmp_path):
    movers = counts(planned(tmp_path / "a", **TORN))
    travel = counts(planned(tmp_path / "b", prefer=Prefer.TRAVEL, **TORN))
    assert movers[0] < travel[0]
    assert travel[1] < movers[1]


def test_of_lenses_that_do_equally_well_the_longest_is_taken(tmp_path):
    answer = planned(tmp_path, **(TWO | {"camera": {"height": 1000, "focal_mm": [35, 75, 50]}}))
    assert answer.stack.focal == 0.075


def test_a_shorter_lens_is_taken_where_it_spares_travel(tmp_path):
    # a field of 150 mm on the gate at the end: a longer lens must stand further away, at a larger scale
    said = TWO | {"camera": {"height": 1000, "focal_mm": [35, 75, 50]}, "paint": {"least_field": 150}}
    assert planned(tmp_path, **said).stack.focal == 0.035


# -- any walk ----------------------------------------------------------------------------------------------------------


@st.composite
def walks(draw, *, most: float) -> list[list[float]]:
    """Draw a walk of some legs, there and back, that never goes further than ``most`` toward."""
    inner = draw(st.lists(st.integers(2, 48), max_size=3, unique=True).map(sorted))
    ends = [draw(st.floats(-3.0, most).map(lambda value: round(value, 3))) for _ in range(len(inner) + 1)]
    return [[1, 0], *([frame, end] for frame, end in zip([*inner, 49], ends, strict=True))]


@st.composite
def feasible(draw) -> dict:
    """Draw a brief that a wide stand can do for certain."""
    distances = sorted(draw(st.lists(st.floats(1.0, 3000.0) | st.just(math.inf), min_size=1, max_size=6)))
    nearest = min(distances[0], 50.0)
    levels = [
        level(f"level {index}", "infinity" if math.isinf(far) else far, art_width=300, art=f"{index}.png")
        for index, far in enumerate(distances)
    ]
    focus = draw(st.sampled_from([700, "infinity", *(one["name"] for one in levels)]))
    return {
        "levels": levels,
        "toward": draw(walks(most=0.6 * nearest)),
        "across": draw(st.none() | walks(most=5.0)),
        "camera": {"focus": focus, "squeeze": draw(st.sampled_from([1.0, 2.0]))},
        "stand": WIDE,
    }


@settings(max_examples=200)
@given(said=feasible(), prefer=st.sampled_from(list(Prefer)))
def test_a_planned_shot_shows_the_growth_and_the_drift_of_the_world(said, prefer, tmp_path_factory):
    answer = planned(tmp_path_factory.mktemp("brief"), prefer=prefer, **said)
    plan, x = looks(answer.shot)
    frames = np.arange(FRAMES[0], FRAMES[1] + 1)
    # The walk is steady between its points: a second formula for where the viewer is.
    toward = np.interp(frames, *np.array(said["toward"]).T)[:, None]
    across = np.interp(frames, *np.array(said["across"] or [[1, 0]]).T)[:, None]
    distance = np.array([element.distance for element in answer.brief.elements])
    lens = 1828 * plan.image_distance[0] / (22.0 * MM * said["camera"]["squeeze"])
    grown = plan.size_px / plan.size_px[0]
    assert np.abs((grown - 1 / (1 - toward / distance)) * 1828).max() <= CLOSE_PX
    assert np.abs(x + lens * across / (distance - toward)).max() <= CLOSE_PX * max(1.0, np.abs(x).max() / 1828)
    assert answer.stack.solved.gap <= 1e-9
    assert (answer.stack.solved.mip_gap or 0.0) <= 1e-9
    within(answer.shot, plan)


def within(shot: Shot, plan: Plan) -> None:
    """Assert that no frame leaves the limits of the stand."""
    slack = 2e-9
    height, levels = plan.tracks.camera["height"], plan.tracks.levels["height"]
    assert (np.abs(height - 1.65) <= 1.35 + slack).all()
    assert (np.abs(levels - 1.5) <= 1.5 + slack).all()
    assert (-np.diff(levels, axis=1) >= 2 * MM - slack).all()


def test_a_level_that_rests_stands_where_it_is_clamped_on_every_frame(tmp_path):
    answer = planned(tmp_path, **TORN)
    tracks = make_plan(answer.shot).tracks.levels
    resting: list[Level] = [one for one, rests in zip(answer.shot.levels, answer.stack.rests, strict=True) if rests]
    assert resting
    for column in np.flatnonzero(answer.stack.rests):
        assert np.ptp(tracks["height"][:, column]) == np.ptp(tracks["east"][:, column]) == 0.0


def test_a_stand_without_room_is_no_answer(tmp_path):
    said = TWO | {"stand": {"level_height": [700, 800], "least_gap": 150}}
    assert isinstance(plan_brief(brief_in(tmp_path, **said)), Clash)
