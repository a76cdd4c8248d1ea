# SPDX-License-Identifier: GPL-3.0-or-later
"""From a scene that was read back to a shot: what nobody touched stays to the last figure, and what was is taken."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plan.plannable import plannable_shots
from proof.readings import reading_of
from underglass.plan import make_plan
from underglass.plan.plan_arrays import Tracks
from underglass.reading.scene_reading import SceneReading
from underglass.revise.revised_shot import revised_shot
from underglass.revise.stand_readings import over_frames, standing_of
from underglass.revise.tidy_numbers import tidy, tidy_read
from underglass.shot import Camera, Focus, FrameTable, Gate, Level, Projection, Shot, ShotError, Stand
from underglass.shot.units import METRES_PER_UNIT, metres_from, radians_from

# Half of 1e-6 of the field in a frame of 2,000 px.
SAME_SHARE = 1e-6


# A made-up shot is dear, and each goes through a plan or three.
FEW = settings(max_examples=25)


def lens_shots():
    return plannable_shots().filter(lambda shot: shot.camera.projection is Projection.PERSPECTIVE)


def scene_of(shot: Shot, tracks: Tracks) -> SceneReading:
    """Return what would be read of a scene whose axes stand as ``tracks`` say, in Blender's single precision."""

    def single(track: np.ndarray) -> np.ndarray:
        return track.astype(np.float32).astype(np.float64)

    rounded = Tracks(
        tracks.frames,
        {axis: single(track) for axis, track in tracks.camera.items()},
        {axis: single(track) for axis, track in tracks.levels.items()},
    )
    stands, lens = reading_of(make_plan(shot, tracks=rounded)), reading_of(make_plan(shot)).camera
    # the lens is keyed by the plan of the shot, not by where the levels are now
    return replace(stands, camera=replace(lens, matrix=stands.camera.matrix))


def taken_back(shot: Shot, reading: SceneReading, **options: bool) -> Shot:
    plan = make_plan(shot)
    return revised_shot(shot, plan=plan, standing=standing_of(plan, reading=reading), **options).shot


@FEW
@given(lens_shots())
def test_a_scene_that_nobody_touched_is_the_shot_it_was_built_from(shot):
    assert taken_back(shot, reading_of(make_plan(shot))) == shot


@FEW
@given(lens_shots(), st.data())
def test_a_level_moved_east_as_a_whole_is_planned_there(shot, data):
    plan = make_plan(shot)
    column = data.draw(st.integers(0, len(shot.levels) - 1))
    share = data.draw(st.floats(-0.3, 0.3).filter(lambda share: abs(share) > 1e-3))
    shift = share * shot.camera.frame_px[0] / float(plan.scale[:, column].max())
    levels = {axis: track.copy() for axis, track in plan.tracks.levels.items()}
    levels["east"][:, column] += shift
    now = make_plan(taken_back(shot, scene_of(shot, replace(plan.tracks, levels=levels))))
    wanted = levels["east"][:, column]
    error = np.abs(now.tracks.levels["east"][:, column] - wanted) * plan.scale[:, column]
    # single precision of a place far to one side is all that may be lost
    allowed = SAME_SHARE * shot.camera.frame_px[0] + 2e-7 * np.abs(wanted).max() * plan.scale[:, column]
    assert (error <= allowed).all()
    others = [index for index in range(len(shot.levels)) if index != column]
    # where the whole schedule has become a frame table, its cells are as short as may be
    strayed = np.abs(now.tracks.levels["east"] - plan.tracks.levels["east"])[:, others] * plan.scale[:, others]
    assert (strayed <= SAME_SHARE * shot.camera.frame_px[0]).all()
    if not isinstance(now.shot.schedule, FrameTable):
        assert (strayed == 0).all()


@FEW
@given(lens_shots())
def test_a_frame_table_stays_a_frame_table(shot):
    if not isinstance(shot.schedule, FrameTable):
        return
    plan = make_plan(shot)
    reading = reading_of(plan)
    corners = reading.corners.copy()
    corners[:, 0, :, 1] += 0.01 * shot.camera.frame_px[0] / float(plan.scale[:, 0].max())
    assert isinstance(taken_back(shot, replace(reading, corners=corners)).schedule, FrameTable | tuple)


@FEW
@given(lens_shots(), st.integers(1, 40))
def test_a_plan_over_other_frames_holds_at_its_ends(shot, more):
    plan = make_plan(shot)
    first, last = shot.frames
    longer = over_frames(shot, plan, frames=(first, last + more))
    assert len(longer.frames) == len(plan.frames) + more
    assert (longer.x[: len(plan.frames)] == plan.x).all()
    assert (longer.x[len(plan.frames) :] == plan.x[-1]).all()


@FEW
@given(lens_shots())
def test_a_tilted_level_is_refused(shot):
    reading = reading_of(make_plan(shot))
    corners = reading.corners.copy()
    corners[:, 0, 0, 2] += 0.05 * shot.levels[0].art_width
    corners[:, 0, 3, 2] += 0.05 * shot.levels[0].art_width
    with pytest.raises(ShotError, match="is tilted"):
        taken_back(shot, replace(reading, corners=corners))


@given(
    st.sampled_from(sorted(METRES_PER_UNIT)),
    st.integers(-20_000, 20_000),
    st.floats(-0.4, 0.4),
)
def test_a_tidy_number_is_what_a_person_would_have_written(unit, hundredths, noise):
    said = hundredths / 100
    tolerance = 1e-7
    found = tidy(metres_from(said, unit) + noise * tolerance, unit=unit, tolerance=tolerance)
    assert abs(found - metres_from(said, unit)) <= 1.4 * tolerance
    assert tidy(metres_from(said, unit), unit=unit, tolerance=0.0) == metres_from(said, unit)


def test_a_number_that_only_single_precision_made_long_is_tidy_however_fine_the_field():
    for read in (np.float32(0.06), np.nextafter(np.float32(0.06), np.float32(1.0))):
        assert tidy_read(float(read), unit="mm", tolerance=0.0) == metres_from(60.0, "mm")
    # what an artist can have set stays
    assert tidy_read(0.06000005, unit="mm", tolerance=0.0) == pytest.approx(0.06000005, abs=1e-12)


def test_a_tidy_turn_is_in_degrees():
    assert tidy(radians_from(12.5) + 3e-8, unit="deg", tolerance=1e-7) == radians_from(12.5)


def test_a_level_that_leaves_takes_its_wiring_along():
    camera = Camera(Projection.PERSPECTIVE, (400, 300), 1.0, Gate(0.022, 0.0165), 0.05, focus=Focus(distance=0.8))
    levels = tuple(Level(name, "a.png", 0.2, height, (40, 30)) for name, height in (("near", 0.4), ("far", 0.1)))
    stand = Stand(reversed=(("near", "east"), ("camera", "height"), ("far", "turn")))
    plan = make_plan(Shot("", "in", 24.0, (1, 3), camera, levels, stand=stand))
    standing = replace(standing_of(plan, reading=reading_of(plan)), present=(False, True))
    left = revised_shot(plan.shot, plan=plan, standing=standing).shot
    assert left.stand.reversed == (("camera", "height"), ("far", "turn"))


@FEW
@given(lens_shots(), st.data())
def test_a_level_that_leaves_takes_its_columns_along(shot, data):
    """Of the chart as of the schedule: the names that stay are those of the levels that stay."""
    others = [name for name in shot.names if name != shot.camera.focus.level]
    moves = () if isinstance(shot.schedule, FrameTable) else shot.schedule
    others = [name for name in others if not any(move.about == name for move in moves)]
    if len(shot.names) < 2 or not others:
        return
    name = data.draw(st.sampled_from(others))
    plan = make_plan(shot)
    reading = reading_of(plan)
    column = shot.names.index(name)
    kept = [number for number in range(len(shot.names)) if number != column]
    reading = replace(
        reading,
        corners=reading.corners[:, kept],
        hidden=reading.hidden[:, kept],
        levels=tuple(reading.levels[number] for number in kept),
    )
    without = taken_back(shot, reading)
    tables = [without.chart, *([without.schedule] if isinstance(without.schedule, FrameTable) else [])]
    assert name not in {part for table in tables for part, _ in table.columns}
    make_plan(without)
