# SPDX-License-Identifier: GPL-3.0-or-later
"""Where nothing fits: the limits that clash are named, what each would have to give is enough and no more than that."""

from copy import deepcopy
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from desk.briefs import brief_in, level
from underglass.plan import make_plan
from underglass_headless.desk.planner import Answer, Clash, Prefer, plan_brief
from underglass_headless.desk.planner.answer_brief import answer_of
from underglass_headless.desk.planner.clashing_limits import compromise
from underglass_headless.desk.planner.walk_frames import world_of

MM = 0.001

ROOMY: dict[str, Any] = {
    "levels": [level("gate", 4), level("star", "infinity")],
    "toward": [[1, 0], [49, 1]],
    "camera": {"height": 1000},
    "stand": {"level_height": [100, 800], "least_gap": 20},
}

BROKEN: dict[str, tuple[dict[str, Any], set[str]]] = {
    "glasses too thick for the column": (
        {"stand": {"level_height": [700, 800], "least_gap": 150}},
        {"stand.level_height:least", "stand.level_height:most", "stand.least_gap"},
    ),
    "a clamp above the top rack": (
        {"levels": [level("gate", 4, height=900), level("star", "infinity")]},
        {"stand.level_height:most", "level.gate.height:least"},
    ),
    "a field wider than the camera is high": (
        {"paint": {"least_field": 400}},
        {"paint.least_field", "camera.height:most"},
    ),
    "a pan that the racks do not have": (
        {
            "across": [[1, 0], [49, 5]],
            "stand": {"level_height": [100, 800], "least_gap": 20, "level_east": [-10, 10]},
        },
        {"stand.level_east:most", "camera.height:least", "stand.level_height:most"},
    ),
    "art beyond the rack's north": (
        {
            "levels": [level("gate", 4, north=50), level("star", "infinity")],
            "stand": {"level_height": [100, 800], "level_north": [-20, 20]},
        },
        {"stand.level_north:most"},
    ),
    "two clamps in one place": (
        {"levels": [level("gate", 4, height=700), level("star", "infinity", height=695)]},
        {"stand.least_gap", "level.gate.height:most", "level.star.height:least"},
    ),
}


def clash_of(folder, said) -> Clash:
    clash = plan_brief(brief_in(folder, **said))
    assert isinstance(clash, Clash), clash
    return clash


def with_more(said: dict[str, Any], key: str, by: float) -> dict[str, Any] | None:
    """Return the brief with one limit eased by ``by`` mm; None where a brief cannot say that."""
    said = deepcopy(said)
    table, _, rest = key.partition(".")
    name, _, side = rest.partition(":")
    sign = -1 if side == "least" or not side else 1
    if table == "level":
        glass = next(one for one in said["levels"] if one["name"] == name.removesuffix(".height"))
        glass["height"] += sign * by
    elif side and table == "stand":
        said["stand"][name][side == "most"] += sign * by
        if name == "level_height" and said["stand"][name][0] < 0:
            return None
    elif table in {"stand", "paint", "camera"}:
        said[table][name] += sign * by
    else:
        return None
    return said


@pytest.mark.parametrize("broken", BROKEN)
def test_the_limits_that_clash_are_named(broken, tmp_path):
    more, parties = BROKEN[broken]
    clash = clash_of(tmp_path, ROOMY | more)
    assert parties <= {way.key for way in clash.ways}
    assert clash.least


@pytest.mark.parametrize("broken", BROKEN)
def test_what_a_limit_alone_would_have_to_give_is_enough_and_a_little_less_is_not(broken, tmp_path):
    said = ROOMY | BROKEN[broken][0]
    tried = 0
    for number, way in enumerate(clash_of(tmp_path / "first", said).ways):
        if way.by is None or (eased := with_more(said, way.key, way.by / MM + 1e-4)) is None:
            continue
        assert isinstance(plan_brief(brief_in(tmp_path / f"{number}", **eased)), Answer), way
        less = with_more(said, way.key, 0.98 * way.by / MM)
        assert isinstance(plan_brief(brief_in(tmp_path / f"{number} less", **less)), Clash), way
        tried += 1
    assert tried


def test_a_level_clamped_too_near_the_lens_clashes_with_what_that_lens_can_draw(tmp_path):
    said = ROOMY | {
        "levels": [level("gate", 4, height=960), level("star", "infinity")],
        "stand": {"level_height": [100, 990], "least_gap": 1},
        "toward": [[1, 0], [49, 0.001]],
    }
    words = {way.key: way.words for way in clash_of(tmp_path, said).ways}
    # 1.05 focal lengths: nearer than f a thin lens has no real image (1/v = 1/f - 1/u; any textbook of optics)
    assert words["lens"] == "the nearest that a lens of 50 mm can draw, which is 52.5 mm"


def test_the_least_that_all_limits_give_together_is_enough(tmp_path):
    said = ROOMY | BROKEN["glasses too thick for the column"][0]
    for way in clash_of(tmp_path / "first", said).least:
        said = with_more(said, way.key, way.by / MM + 1e-4)
    assert isinstance(plan_brief(brief_in(tmp_path / "eased", **said)), Answer)


def test_a_clamp_above_the_top_rack_is_off_by_what_it_is_above_it(tmp_path):
    clash = clash_of(tmp_path, ROOMY | BROKEN["a clamp above the top rack"][0])
    by = {way.key: way.by for way in clash.ways}
    assert by["stand.level_height:most"] == pytest.approx(100 * MM)
    assert by["level.gate.height:least"] == pytest.approx(100 * MM)


# -- the best plan inside the limits -----------------------------------------------------------------------------------

PANNING = ROOMY | BROKEN["a pan that the racks do not have"][0]


def test_the_best_plan_inside_the_limits_keeps_them_and_says_what_it_costs(tmp_path):
    nearest = clash_of(tmp_path, PANNING).nearest
    assert nearest is not None
    tracks = make_plan(nearest.shot).tracks.levels
    assert np.abs(tracks["east"]).max() <= 10 * MM + 1e-9
    assert (np.abs(tracks["height"] - 450 * MM) <= 350 * MM + 1e-9).all()
    assert nearest.error_px.max() > 1.0
    assert not any(one.level == "star" and one.holds for one in nearest.shot.expectations)


def test_no_other_stack_inside_the_limits_looks_much_more_like_the_world(tmp_path, seed):
    nearest = clash_of(tmp_path, PANNING).nearest
    assert nearest is not None
    random = np.random.default_rng(seed)
    best = np.inf
    for _ in range(4000):
        stack = nearest.stack
        spread = random.choice([1e-3, 1e-2, 0.1, 0.5])
        scale = stack.scale * random.uniform(1 - spread, 1 + spread)
        gain = stack.gain * random.uniform(1 - spread, 1 + spread, 2) + random.normal(0, 1e-3 * spread, 2)
        distance = stack.distance * random.uniform(1 - spread, 1 + spread, 2)
        other = replace(stack, scale=scale, gain=gain, distance=distance, rests=np.zeros(2, bool))
        height = 1.0 - scale * np.array([0, 1])[:, None] - distance + gain * np.array([0, 1])[:, None]
        east = (scale - gain) * 5.0
        kept = np.abs(east).max() <= 0.01 and height.min() >= 0.1 and height.max() <= 0.8 and height[:, 0].min() > 0
        if kept and (height[:, 0] - height[:, 1]).min() >= 0.02:
            best = min(best, answer_of(nearest.brief, nearest.world, other, prefer=Prefer.MOVERS).error_px.max())
    assert np.isfinite(best)
    assert best >= 0.98 * nearest.error_px.max()


def test_where_something_fits_the_best_plan_inside_the_limits_is_the_world_itself(tmp_path):
    brief = brief_in(tmp_path, **ROOMY)
    world = world_of(brief)
    stack = compromise(brief, world, focal=0.05)
    assert stack is not None
    assert answer_of(brief, world, stack, prefer=Prefer.MOVERS).error_px.max() < 1e-5


def test_where_not_even_a_stand_at_rest_fits_there_is_no_best_plan(tmp_path):
    assert clash_of(tmp_path, ROOMY | BROKEN["a clamp above the top rack"][0]).nearest is None
