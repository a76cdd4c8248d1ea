# SPDX-License-Identifier: GPL-3.0-or-later
"""What a scene's numbers say of the stand, on readings that are made by hand; all lengths in metres."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from proof.readings import pose, reading_of
from report import synthetic
from underglass.plan import corners_px, make_plan
from underglass.plan.plan_arrays import Plan
from underglass.proof.audit.audit_scene import audit
from underglass.proof.audit.camera_faults import camera_faults
from underglass.proof.diagnose.part_that_is_off import diagnose
from underglass.proof.proof_facts import BLOCK, NOTE, Fault
from underglass.proof.verdict.judge_levels import scene_error_px
from underglass.reading.scene_reading import SceneReading
from underglass.shot import Focus, Move, Projection
from underglass.shot.units import METRES_PER_UNIT

PLAN = synthetic.plan()
TOLERANCE_PX = 0.05


def said_of(reading: SceneReading, plan: Plan = PLAN) -> list[Fault]:
    error = scene_error_px(plan, reading=reading)
    return diagnose(plan, reading=reading, scene_error=error, tolerance=TOLERANCE_PX)


def test_a_camera_elsewhere_that_a_parent_shears_flat_is_judged_where_it_stands() -> None:
    reading = reading_of(PLAN)
    matrix = reading.camera.matrix.copy()
    matrix[:, :3, 1], matrix[:, 0, 3] = matrix[:, :3, 0], 0.5
    codes = {fault.code for fault in said_of(replace(reading, camera=replace(reading.camera, matrix=matrix)))}
    assert codes
    assert "stand-moved" not in codes


def moved(reading: SceneReading, by: np.ndarray) -> SceneReading:
    """Return the reading with camera and levels put elsewhere by a rigid motion (4, 4)."""
    camera = replace(reading.camera, matrix=by @ reading.camera.matrix)
    return replace(reading, corners=reading.corners @ by[:3, :3].T + by[:3, 3], camera=camera)


def shifted(reading: SceneReading, name: str, *, east: float = 0.0, north: float = 0.0, up: float = 0.0):
    """Return the reading with one level elsewhere."""
    corners = reading.corners.copy()
    corners[:, PLAN.names.index(name)] += east, north, up
    return replace(reading, corners=corners)


def lying_down() -> np.ndarray:
    """Return the motion that lays a stand on its side, so that the camera looks along the floor."""
    return np.array([[1, 0, 0, 0.3], [0, 0, 1, 0], [0, -1, 0, 1.2], [0, 0, 0, 1]], dtype=float)


def test_a_scene_as_planned_is_not_spoken_of():
    assert said_of(reading_of(PLAN)) == []


@given(st.floats(-3, 3), st.floats(-3, 3), st.floats(0.01, 3), st.floats(-3, 3))
def test_a_stand_that_was_moved_as_a_whole_is_one_note(east, north, height, turn):
    (note,) = said_of(moved(reading_of(PLAN), pose(east, north, height, turn)))
    assert (note.code, note.severity) == ("stand-moved", NOTE)
    assert note.message == "the whole stand is moved together: the picture is as planned"


def test_a_stand_laid_on_its_side_is_one_note():
    assert [fault.code for fault in said_of(moved(reading_of(PLAN), lying_down()))] == ["stand-moved"]


def test_of_a_moved_stand_the_level_that_is_off_is_named_by_itself():
    wrong = moved(shifted(reading_of(PLAN), "boat", east=0.002), lying_down())
    fault, note = said_of(wrong)
    assert (fault.code, fault.subject, fault.severity) == ("east-offset", "boat", BLOCK)
    assert note.message == "the stand is moved together, all but boat"


def test_a_camera_that_was_moved_alone_is_not_the_stand():
    reading = reading_of(PLAN)
    alone = replace(reading, camera=replace(reading.camera, matrix=pose(0.01, 0, 0, 0) @ reading.camera.matrix))
    assert [(fault.code, fault.subject) for fault in said_of(alone)] == [("east-offset", "camera")]


def test_what_a_fault_does_on_screen_is_what_the_scene_shows_on_its_frames():
    wrong = shifted(reading_of(PLAN), "boat", east=0.002)
    (fault,) = said_of(wrong)
    shown = scene_error_px(PLAN, reading=wrong)[:, PLAN.names.index("boat")].max()
    # k of the boat on the last frame is what 2 mm come to.
    assert shown == pytest.approx(0.002 * PLAN.scale[-1, 2])
    assert fault.error_px == shown
    assert fault.message.endswith(f": up to {shown:.2f} px on screen")


def test_where_two_faults_move_one_level_the_screen_shows_both_together():
    wrong = shifted(reading_of(PLAN), "boat", east=0.002, up=-0.003)
    faults = said_of(wrong)
    assert {fault.code for fault in faults} == {"east-offset", "height-offset"}
    shown = scene_error_px(PLAN, reading=wrong).max()
    assert all(fault.message.endswith(f"up to {shown:.2f} px on screen, all faults together") for fault in faults)


def test_levels_that_have_exchanged_only_their_heights_are_named_as_that():
    reading = reading_of(PLAN)
    apart = PLAN.tracks.levels["height"][0, 1] - PLAN.tracks.levels["height"][0, 3]
    wrong = shifted(shifted(reading, "reeds", up=-apart), "far hills", up=apart)
    (fault,) = said_of(wrong)
    assert (
        fault.message == "reeds and far hills have changed places in height: each stands at the other's, on every frame"
    )
    assert (fault.code, fault.severity) == ("swapped", BLOCK)
    assert fault.error_px > 10


def with_lens(reading: SceneReading, factor: float) -> SceneReading:
    return replace(reading, camera=replace(reading.camera, lens_mm=reading.camera.lens_mm * factor))


def test_a_lens_that_puts_out_only_the_edges_of_wide_art_is_named_all_the_same():
    sky = replace(PLAN.shot.levels[-1], art_width=PLAN.shot.levels[-1].art_width * 4)
    wide = make_plan(replace(PLAN.shot, levels=(*PLAN.shot.levels[:-1], sky)))
    farthest = np.linalg.norm(corners_px(wide), axis=-1).max()
    # A lens that is longer by a share carries the farthest corner out by that share of its way from the axis.
    faults = said_of(with_lens(reading_of(wide), 1 + 1.3 * TOLERANCE_PX / farthest), wide)
    assert [(fault.code, fault.subject) for fault in faults] == [("lens-offset", "camera")]


def test_a_camera_that_is_off_by_less_than_tolerance_has_not_taken_the_stand_along():
    reading = reading_of(PLAN)
    east = 0.8 * TOLERANCE_PX / PLAN.scale.max()
    barely = replace(reading, camera=replace(reading.camera, matrix=pose(east, 0, 0, 0) @ reading.camera.matrix))
    assert [(fault.code, fault.subject, fault.severity) for fault in said_of(barely)] == [
        ("east-offset", "camera", NOTE)
    ]


def test_under_an_anamorphic_lens_a_camera_moved_north_alone_is_not_the_stand():
    squeezed = make_plan(replace(PLAN.shot, camera=replace(PLAN.shot.camera, squeeze=2.0)))
    reading = reading_of(squeezed)
    north = 1.5 * TOLERANCE_PX / squeezed.scale.max() / 2
    alone = replace(reading, camera=replace(reading.camera, matrix=pose(0, north, 0, 0) @ reading.camera.matrix))
    assert [(fault.code, fault.subject) for fault in said_of(alone, squeezed)] == [("north-offset", "camera")]


def zooming(**camera: object) -> Plan:
    """Return the plan of a lens that draws out its focal length, focused on what stands still."""
    zoom = Move("camera", "focal", *PLAN.shot.frames, PLAN.shot.camera.focal, PLAN.shot.camera.focal * 1.4)
    return make_plan(replace(PLAN.shot, camera=replace(PLAN.shot.camera, **camera), schedule=(zoom,)))


def test_a_focal_length_that_was_not_moved_is_that_and_no_matter_of_focus():
    plan = zooming(focus=Focus())
    reading = reading_of(plan)
    still = replace(
        reading, camera=replace(reading.camera, lens_mm=np.full(len(plan.frames), reading.camera.lens_mm[0]))
    )
    assert [(fault.code, fault.subject) for fault in said_of(still, plan)] == [("lens-still", "camera")]


def test_a_lens_of_another_length_at_the_stop_of_its_own_barrel_has_no_wrong_stop():
    plan = zooming(focus=Focus(distance=0.6), f_stop=8.0)
    reading = reading_of(plan)
    focal = plan.shot.camera.focal
    # 1/f = 1/u + 1/v, and f/8 of a lens that stands v off is a pinhole's f-stop of 8·v/f.
    image = 1 / (1 / focal - 1 / 0.6)
    lens = {
        "lens_mm": np.full(len(plan.frames), image * 1000),
        "f_stop": np.full(len(plan.frames), 8.0 * image / focal),
    }
    assert list(camera_faults(plan, reading=replace(reading, camera=replace(reading.camera, **lens)))) == []
    stopped = lens | {"f_stop": lens["f_stop"] * 1.4}
    told = camera_faults(plan, reading=replace(reading, camera=replace(reading.camera, **stopped)))
    assert [fault.code for fault in told] == ["f-stop"]


def test_a_lens_a_hair_off_at_infinity_is_off_and_leaves_no_breathing_out():
    plan = make_plan(replace(PLAN.shot, camera=replace(PLAN.shot.camera, focus=Focus())))
    assert [fault.code for fault in said_of(with_lens(reading_of(plan), 1 - 8e-5), plan)] == ["lens-offset"]


def test_a_camera_that_leans_so_little_that_only_the_edges_of_wide_art_show_it_is_named_all_the_same():
    sky = replace(PLAN.shot.levels[-1], art_width=PLAN.shot.levels[-1].art_width * 6)
    wide = make_plan(replace(PLAN.shot, levels=(*PLAN.shot.levels[:-1], sky)))
    reading = reading_of(wide)

    def leaning(angle: float) -> SceneReading:
        turn = np.eye(4)
        turn[1:3, 1:3] = [[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]]
        return replace(reading, camera=replace(reading.camera, matrix=reading.camera.matrix @ turn))

    trial = scene_error_px(wide, reading=leaning(1e-5)).max()
    faults = said_of(leaning(1e-5 * 1.2 * TOLERANCE_PX / trial), wide)
    assert [(fault.code, fault.subject) for fault in faults] == [("tilt-offset", "camera")]


@pytest.mark.parametrize("turn", [-1.3, 0.0, 0.8, np.pi / 2])
def test_under_an_anamorphic_lens_a_level_that_is_a_hair_too_large_is_named_as_that(turn: float):
    name = PLAN.names[0]
    square = replace(PLAN.shot.levels[0], turn=turn, art_px=(32, 32), art_width=0.2)
    camera = replace(PLAN.shot.camera, squeeze=2.0)
    plan = make_plan(replace(PLAN.shot, camera=camera, levels=(square, *PLAN.shot.levels[1:]), schedule=()))
    reading = reading_of(plan)

    def grown(share: float) -> SceneReading:
        corners = reading.corners.copy()
        centre = corners[:, 0].mean(axis=1, keepdims=True)
        corners[:, 0] = centre + (corners[:, 0] - centre) * (1 + share)
        return replace(reading, corners=corners)

    # So much that width and height together put it barely out of tolerance.
    share = 1e-3 * 1.05 * TOLERANCE_PX / float(scene_error_px(plan, reading=grown(1e-3)).max())
    told = said_of(grown(share), plan)
    assert {(fault.code, fault.subject) for fault in told} <= {("width-offset", name), ("art-height-offset", name)}
    assert told


def test_a_field_that_is_fitted_to_the_height_of_the_frame_is_named_as_too_wide():
    camera = replace(PLAN.shot.camera, projection=Projection.ORTHOGRAPHIC, gate=None, field_width=0.3, f_stop=0.0)
    plan = make_plan(replace(PLAN.shot, camera=camera))
    reading = reading_of(make_plan(PLAN.shot))
    count = len(plan.frames)
    parallel = {"parallel": np.ones(count), "ortho_scale": np.full(count, 0.3)}
    right = replace(reading, camera=replace(reading.camera, **parallel))
    assert said_of(right, plan) == []
    fitted = replace(right, camera=replace(right.camera, upright=np.ones(count)))
    width, height = camera.frame_px
    (fault,) = said_of(fitted, plan)
    assert (fault.code, fault.subject) == ("field-offset", "camera")
    assert fault.amount == pytest.approx((0.3 * width / height - 0.3) / METRES_PER_UNIT[plan.shot.units])


def test_of_a_level_that_is_not_evaluated_no_drawing_is_called_wrong():
    runs = tuple(("1", "2") if name == "boat" else () for name in PLAN.names)
    plan = replace(PLAN, drawings=runs, drawing=np.ones_like(PLAN.drawing))
    reading = reading_of(plan)
    shown = tuple(0 for _ in plan.frames)

    def codes(*, in_render: bool) -> set[str]:
        levels = tuple(
            replace(level, in_render=in_render, drawings=shown) if level.level == "boat" else level
            for level in reading.levels
        )
        found = audit(plan, reading=replace(reading, levels=levels), level_error_px={}, tolerance=TOLERANCE_PX)
        return {fault.code for fault in found if fault.subject == "boat"}

    assert codes(in_render=True) == {"drawing"}
    assert codes(in_render=False) == {"hidden"}


def test_a_lens_a_little_too_long_and_focused_elsewhere_has_no_wrong_stop_beside():
    plan = make_plan(replace(PLAN.shot, camera=replace(PLAN.shot.camera, focus=Focus(distance=0.6), f_stop=8.0)))
    camera = reading_of(plan).camera
    wrong = replace(
        camera, lens_mm=camera.lens_mm * 1.001, f_stop=camera.f_stop * 1.001, focus=np.full_like(camera.focus, 0.45)
    )
    told = camera_faults(plan, reading=replace(reading_of(plan), camera=wrong))
    assert [fault.code for fault in told] == ["focus"]


# -- just inside and just outside of each limit ------------------------------------------------------------------------


@pytest.mark.parametrize(("share", "axes"), [(0.49, {"east"}), (0.51, {"east", "north"})])
def test_an_axis_is_named_that_alone_would_use_up_half_of_the_tolerance(share: float, axes: set[str]) -> None:
    scale = float(PLAN.scale[:, PLAN.names.index("boat")].max())
    faults = said_of(shifted(reading_of(PLAN), "boat", east=0.2 / scale, north=share * TOLERANCE_PX / scale))
    assert {fault.axis for fault in faults} == axes


@pytest.mark.parametrize(("more", "faults"), [(0.981, 1), (0.979, 2), (1.019, 1), (1.022, 2)])
def test_width_and_height_out_by_the_same_share_are_one_scale(more: float, faults: int) -> None:
    # as wide again by a hundredth, and as tall again by that or by 2 % more or less than that
    reading = reading_of(PLAN)
    column = PLAN.names.index("boat")
    corners = reading.corners.copy()
    centre = corners[:, column].mean(axis=1, keepdims=True)
    corners[:, column] = centre + (corners[:, column] - centre) * [1.01, 1.0 + 0.01 / more, 1.0]
    said = said_of(replace(reading, corners=corners))
    assert len(said) == faults
    assert ("as much too tall" in said[0].message) == (faults == 1)
