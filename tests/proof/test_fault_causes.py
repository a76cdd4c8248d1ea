# SPDX-License-Identifier: GPL-3.0-or-later
"""Of what is wrong with a scene the cause is told first, and what it explains is not told again."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from proof.readings import reading_of
from underglass.plan import make_plan
from underglass.plan.plan_arrays import Plan
from underglass.proof.audit.audit_scene import audit
from underglass.proof.audit.changed_properties import KEYED, change_faults, changes_pixels
from underglass.proof.diagnose.fault_causes import by_cause
from underglass.proof.diagnose.part_that_is_off import diagnose
from underglass.proof.diagnose.scene_wide import later
from underglass.proof.diagnose.which_object import objects_of
from underglass.proof.proof_facts import BLOCK, NOTE, Fault
from underglass.proof.verdict.judge_levels import scene_error_px
from underglass.proof.verdict.whole_proof import judge_scene
from underglass.reading.scene_reading import NOT_RENDERED, Change, LevelReading, SceneReading
from underglass.shot import Camera, Focus, Gate, Level, Move, Projection, Shot

LENS = Camera(Projection.PERSPECTIVE, (1000, 750), 2.0, Gate(0.02, 0.015), 0.05, 8.0, Focus(distance=1.0))
REEDS = Level("reeds", "reeds.png", 0.4, 1.0, (40, 30))
HILLS = Level("hills", "hills.png", 0.9, 0.2, (40, 30))
PLAN = make_plan(Shot("still", "mm", 24.0, (1, 9), LENS, (REEDS, HILLS)))
TOLERANCE = 0.05


def fault(code: str, subject: str = "reeds", axis: str = "", severity: str = BLOCK, message: str = "") -> Fault:
    return Fault(code, severity, subject, axis, (1, 9), 1.0, "mm", 1.0, message or code)


def codes(faults: list[Fault]) -> list[str]:
    return [one.code for one in by_cause(faults)]


def told(reading: SceneReading) -> list[Fault]:
    error = scene_error_px(PLAN, reading=reading)
    worst = {name: float(error[:, column].max()) for column, name in enumerate(PLAN.names)}
    return by_cause(
        [
            *diagnose(PLAN, reading=reading, scene_error=error, tolerance=TOLERANCE),
            *audit(PLAN, reading=reading, level_error_px=worst, tolerance=TOLERANCE),
        ]
    )


def test_a_parent_is_told_with_what_it_does() -> None:
    pull = fault("has-parent", message="reeds has a parent rig, which is not in the shot, and it is up to 1.00 px out")
    (one,) = by_cause([fault("east-offset", axis="east", message="reeds is 3 mm too far east"), pull])
    assert (one.code, one.axis, one.amount) == ("has-parent", "east", 1.0)
    assert one.message == "reeds has a parent rig, which is not in the shot: reeds is 3 mm too far east"


def test_what_pulls_the_camera_is_blamed_where_something_is_wrong_with_its_place() -> None:
    pull = fault("has-parent", "camera", severity=NOTE, message="the camera has a parent rig, which is not in the shot")
    assert [one.severity for one in by_cause([pull])] == [NOTE]
    (one,) = by_cause([pull, fault("east-offset", "camera", "east", message="the camera is 4 mm too far east")])
    assert (one.code, one.severity) == ("has-parent", BLOCK)
    assert one.message == "the camera has a parent rig, which is not in the shot: the camera is 4 mm too far east"


def test_a_parent_of_one_level_is_not_blamed_for_another() -> None:
    assert set(codes([fault("east-offset", "hills", "east"), fault("has-parent")])) == {"has-parent", "east-offset"}


def test_what_is_hidden_there_twice_or_clipped_is_not_told_to_be_unseen_too() -> None:
    for code in ("hidden", "doubled", "clipped", "missing"):
        assert codes([fault("not-seen"), fault("cut-off"), fault(code)]) == [code]
        assert codes([fault("not-seen", "hills"), fault(code)]) == [code, "not-seen"]


def test_another_camera_is_blamed_and_not_where_it_stands() -> None:
    other = fault("other-camera", "camera", severity=NOTE)
    (one,) = by_cause([fault("east-offset", "camera", "east"), fault("lens-offset", "camera", "lens"), other])
    assert (one.code, one.severity) == ("other-camera", BLOCK)
    # one with the same view is a note
    assert [one.severity for one in by_cause([other])] == [NOTE]


def test_curves_are_told_beside_what_they_do() -> None:
    curve = fault("curve-not-linear", message="reeds has curves that are not straight lines: Location X Bezier")
    (one,) = by_cause([curve, fault("east-uneven", axis="east", message="reeds runs unevenly")])
    assert one.message == "reeds runs unevenly (Location X Bezier)"


def test_a_sensor_of_another_size_is_told_and_no_lens() -> None:
    (one,) = stops_of_camera(sensor_mm=np.full((9, 2), 20.4))
    assert (one.code, one.subject, one.unit) == ("sensor-size", "camera", "mm")
    assert one.amount == pytest.approx(0.4)


def test_a_sensor_that_is_fitted_to_the_height_is_told_and_no_lens() -> None:
    # As high as the gate it would show the same.
    (one,) = stops_of_camera(upright=np.ones(9), sensor_mm=np.tile([20.0, 16.0], (9, 1)))
    assert (one.code, one.subject) == ("sensor-fit", "camera")
    assert not stops_of_camera(upright=np.ones(9))


def stops_of_camera(**values: np.ndarray) -> list[Fault]:
    reading = reading_of(PLAN)
    return [f for f in told(replace(reading, camera=replace(reading.camera, **values))) if f.severity == BLOCK]


def test_a_lens_that_is_longer_is_told_though_the_sensor_is_right() -> None:
    (one,) = stops_of_camera(lens_mm=reading_of(PLAN).camera.lens_mm * 1.01)
    assert one.code == "lens-offset"


@pytest.mark.parametrize(
    ("corner", "words"), [(0, "lower left"), (1, "lower right"), (2, "upper right"), (3, "upper left")]
)
def test_a_pulled_corner_is_told_by_its_name(corner: int, words: str) -> None:
    reading = reading_of(PLAN)
    corners = reading.corners.copy()
    corners[:, 0, corner, 1] += 0.002
    (one,) = [f for f in told(replace(reading, corners=corners)) if f.severity == BLOCK]
    assert (one.code, one.subject, one.unit) == ("corner-moved", "reeds", "mm")
    assert one.amount == pytest.approx(2.0)
    assert words in one.message


def test_of_two_objects_that_bear_a_level_s_name_the_nearer_to_its_place_is_judged() -> None:
    reading = reading_of(PLAN)
    away = reading.corners[:, :1] + np.array([0.05, 0.0, 0.0])
    copy = LevelReading("reeds", "reeds.001", True, (), (), None, ())
    doubled = replace(
        reading,
        corners=np.concatenate([away, reading.corners], axis=1),
        hidden=np.zeros((9, 3), dtype=bool),
        levels=(copy, *reading.levels),
    )
    assert objects_of(PLAN, reading=doubled) == {"reeds": 1, "hills": 2}
    assert [f.code for f in told(doubled) if f.severity == BLOCK] == ["doubled"]


def change(key: str, shown: float, kind: str = "setting") -> Change:
    return Change("scene", kind, key, f"Render › {key}", "2", "1", shown, 3)


def test_a_change_stops_where_more_than_one_code_of_a_pixel_changes() -> None:
    reading = replace(reading_of(PLAN), changes=(change("a", 2.0), change("b", 1.0), change("c", NOT_RENDERED)))
    faults = list(change_faults(PLAN, reading=reading, told=()))
    assert [(f.code, f.severity) for f in faults] == [
        ("setting-changed", BLOCK),
        ("setting-changed", BLOCK),
        ("harmless-changes", NOTE),
    ]
    assert "Render › a is 2, built 1; it changes pixels by up to 2 of 255 on frame 3" in faults[0].message
    assert "Render › b" in faults[2].message


def test_colour_management_is_one_matter() -> None:
    reading = replace(reading_of(PLAN), changes=(change("look", 9.0, "colour"), change("gamma", 30.0, "colour")))
    (one,) = change_faults(PLAN, reading=reading, told=())
    assert one.code == "colour-management"
    assert "look" in one.message
    assert "gamma" in one.message
    assert one.amount == 30.0


def test_another_noise_is_told_in_a_note_and_not_as_the_same_pixels() -> None:
    seed = Change("scene", "noise", "cycles.seed", "Render › Seed", "99", "0")
    reading = replace(reading_of(PLAN), changes=(seed, change("c", 0.0)))
    same, noise = change_faults(PLAN, reading=reading, told=())
    assert {same.severity, noise.severity} == {NOTE}
    assert "Seed" not in same.message
    assert "Render › Seed is 99, built 0" in noise.message


def test_a_marker_that_brings_a_camera_that_was_not_built_is_named() -> None:
    reading = reading_of(PLAN)
    facts = reading.camera_facts | {"ours": False, "name": "other", "markers": [4]}
    matrix = reading.camera.matrix.copy()
    matrix[:, 0, 3] += 0.004
    moved = replace(reading, camera_facts=facts, camera=replace(reading.camera, matrix=matrix))
    (one,) = [f for f in told(moved) if f.severity == BLOCK]
    assert one.code == "marker-camera"
    assert one.message.startswith("a marker on frame 4 makes 'other' the camera")
    assert "too far east" in one.message


def test_numbers_of_settings_are_said_without_the_digits_of_single_precision() -> None:
    reading = reading_of(PLAN)
    faults = told(replace(reading, settings=reading.settings | {"film_exposure": 1.2999999523162842}))
    (one,) = [fault for fault in faults if fault.severity == BLOCK]
    assert "(1.3)" in one.message


def test_a_doubled_level_is_pointed_to_the_panel() -> None:
    reading = reading_of(PLAN)
    doubled = replace(
        reading,
        corners=np.concatenate([reading.corners, reading.corners[:, :1]], axis=1),
        hidden=np.zeros((9, 3), dtype=bool),
        levels=(*reading.levels, replace(reading.levels[0], object_name="reeds.001")),
    )
    (one,) = [fault for fault in told(doubled) if fault.severity == BLOCK]
    assert "Duplicate Level in the add-on's panel" in one.message


def keyed(key: str, words: str, shown: float, kind: str = "setting") -> Change:
    return Change("scene", kind, key, words, KEYED, "1", shown, 5)


def test_settings_that_are_keyed_are_told_in_one_fault_and_beside_it_what_is_not():
    reading = reading_of(PLAN)
    changes = (
        keyed("cycles.filter_width", "Render › Filter Width", 60.0),
        keyed("render.dither_intensity", "Render › Dither", 60.0),
        Change("scene", "setting", "render.use_freestyle", "Render › Freestyle", "on", "off", 90.0, 2),
    )
    stops = [fault for fault in told(replace(reading, changes=changes)) if fault.severity == BLOCK]
    assert [fault.code for fault in stops] == ["setting-changed", "setting-changed"]
    first, second = stops
    assert first.message == (
        "Render › Filter Width and Render › Dither are keyed; together they change pixels by up to 60 of 255 on frame 5"
    )
    assert first.amount == 60.0
    assert second.message.startswith("Render › Freestyle is on, built off; it changes pixels by up to 90")


def test_one_keyed_setting_is_told_by_itself():
    reading = replace(reading_of(PLAN), changes=(keyed("cycles.filter_width", "Render › Filter Width", 60.0),))
    (one,) = [fault for fault in told(reading) if fault.severity == BLOCK]
    assert one.message == "Render › Filter Width is keyed; it changes pixels by up to 60 of 255 on frame 5"


def test_keyed_colours_are_told_as_one_matter_of_colour():
    changes = (
        keyed("view_settings.exposure", "Color Management › Exposure", 60.0, "colour"),
        keyed("view_settings.gamma", "Color Management › Gamma", 60.0, "colour"),
    )
    reading = replace(reading_of(PLAN), changes=changes)
    (one,) = [fault for fault in told(reading) if fault.severity == BLOCK]
    assert one.code == "colour-management"
    assert "Color Management › Exposure is keyed; Color Management › Gamma is keyed; it changes" in one.message


def blur(shown: float) -> Change:
    return Change("scene", "setting", "render.use_motion_blur", "Render › Motion Blur", "on", "off", shown, 5)


def of_blur(shown: float) -> Fault:
    reading = reading_of(PLAN)
    reading = replace(reading, settings={**reading.settings, "motion_blur": True}, changes=(blur(shown),))
    return next(one for one in told(reading) if one.code == "setting-motion-blur")


def test_what_shows_only_in_motion_counts_from_less_than_a_code_of_a_small_picture():
    assert changes_pixels(blur(0.5))
    assert not changes_pixels(blur(0.01))
    assert not changes_pixels(replace(blur(0.5), key="render.use_freestyle"))
    fault = of_blur(0.5)
    assert fault.severity == BLOCK
    assert fault.message.endswith(": it changes pixels by up to 0.5 of 255 on frame 5")
    assert of_blur(0.01).severity == NOTE
    assert of_blur(0.01).message.endswith(", and changes no pixel")


def test_blur_that_a_small_picture_hardly_shows_is_a_stop_whoever_tells_it():
    reading = replace(reading_of(PLAN), changes=(blur(0.5),))
    (one,) = [fault for fault in change_faults(PLAN, reading=reading, told=()) if fault.severity == BLOCK]
    assert one.code == "setting-changed"


# --- one cause is one fault


def judged(reading: SceneReading, plan: Plan = PLAN) -> list[Fault]:
    """Return the stops of a proof of a scene that only its numbers are known of."""
    proof = judge_scene(
        plan,
        shot_file=Path("shot.toml"),
        scene_file=None,
        reading=reading,
        frames=(),
        measured={},
        tolerance=TOLERANCE,
        pictures={},
        picture_reasons={},
        seconds={},
    )
    return [fault for fault in proof.faults if fault.severity == BLOCK]


def shifted(reading: SceneReading, level: int, east: float) -> SceneReading:
    corners = reading.corners.copy()
    corners[:, level, :, 0] += east
    return replace(reading, corners=corners)


def with_camera_at(reading: SceneReading, *, up: float, **facts: object) -> SceneReading:
    matrix = reading.camera.matrix.copy()
    matrix[:, 2, 3] += up
    camera = replace(reading.camera, matrix=matrix)
    return replace(reading, camera=camera, camera_facts=reading.camera_facts | facts)


FRAMES_OF_ANOTHER_SIZE = [
    {"width": 2000},
    {"height": 1500},
    {"percentage": 50},
    {"width": 640, "height": 900},
    {"pixel_aspect": 2.0},
]


@pytest.mark.parametrize("frame", FRAMES_OF_ANOTHER_SIZE, ids=str)
def test_a_level_in_a_frame_of_another_size_is_blamed_for_itself_alone(frame: dict[str, float]) -> None:
    (alone,) = judged(shifted(reading_of(PLAN), 0, 0.002))
    moved = shifted(reading_of(PLAN), 0, 0.002)
    stops = judged(replace(moved, settings=moved.settings | frame))
    assert stops[0].code in {"frame-size", "pixel-aspect"}
    assert [fault.code for fault in stops[1:]] == ["east-offset"]
    assert stops[1].error_px == pytest.approx(alone.error_px)
    assert stops[1].message == alone.message


def test_a_level_seen_through_a_camera_that_is_off_is_blamed_for_itself_alone() -> None:
    (alone,) = judged(shifted(reading_of(PLAN), 0, 0.002))
    (camera,) = judged(with_camera_at(reading_of(PLAN), up=0.2))
    both = {fault.subject: fault for fault in judged(with_camera_at(shifted(reading_of(PLAN), 0, 0.002), up=0.2))}
    assert both["reeds"].error_px == pytest.approx(alone.error_px)
    assert both["camera"].error_px == pytest.approx(camera.error_px)
    assert "all faults together" not in both["reeds"].message + both["camera"].message


def test_of_another_camera_nothing_is_said_but_that() -> None:
    facts = {"ours": False, "name": "Camera", "depth_of_field": False, "curves": ["Location X Bezier"]}
    reading = with_camera_at(reading_of(PLAN), up=3.0, **facts)
    clip = np.tile([0.1, 0.5], (9, 1))
    reading = replace(reading, camera=replace(reading.camera, clip=clip, focus=reading.camera.focus * 2))
    (one,) = judged(reading)
    assert (one.code, one.subject) == ("other-camera", "camera")
    assert "too high" in one.message


def test_another_camera_that_stands_right_and_is_focused_wrong_is_the_cause_of_that() -> None:
    reading = with_camera_at(reading_of(PLAN), up=0.0, ours=False, name="Camera", depth_of_field=False)
    (one,) = judged(reading)
    assert one.code == "other-camera"
    assert "no depth of field" in one.message


@pytest.mark.parametrize("cause", ["other-camera", "marker-camera", "projection"])
def test_what_pixels_show_through_another_camera_is_not_said_of_levels(cause: str) -> None:
    seen = ("not-flat", "cut-off", "not-seen", "strange-pixels", "two-surfaces", "in-the-way", "clipped", "off-grid")
    faults = [*(fault(code) for code in seen), fault(cause, "camera"), fault("art-differs", "hills")]
    assert codes(faults) == [cause, "art-differs"]
    # A note that another one films what was planned explains nothing.
    assert "not-flat" in codes([fault("not-flat"), fault(cause, "camera", severity=NOTE)])


def test_curves_that_lead_to_the_planned_places_are_no_news() -> None:
    reading = reading_of(PLAN)
    facts = reading.camera_facts | {"curves": ["Location X Bezier"]}
    levels = tuple(replace(level, curves=("Location Z Bezier",)) for level in reading.levels)
    keyed = replace(reading, camera_facts=facts, levels=levels)
    assert told(keyed) == []
    (one,) = judged(with_camera_at(keyed, up=0.2))
    assert one.code == "height-offset"
    assert "Location X Bezier" in one.message


def test_curves_of_a_level_are_not_blamed_for_what_the_camera_does() -> None:
    reading = reading_of(PLAN)
    levels = tuple(replace(level, curves=("Location Z Bezier",), pulls=("parent rig",)) for level in reading.levels)
    assert [one.subject for one in judged(with_camera_at(replace(reading, levels=levels), up=0.2))] == ["camera"]


def short(*, hills_to: float = 0.14) -> Plan:
    """Return a shot of eight frames, in which the camera trucks in and the hills come with it."""
    truck, reeds = Move("camera", "height", 1, 8, 2.0, 1.9), Move("reeds", "east", 2, 7, 0.0, 0.03)
    moves = (truck, Move("hills", "height", 1, 8, 0.2, hills_to), reeds)
    return make_plan(Shot("short", "mm", 24.0, (1, 8), LENS, (REEDS, HILLS), schedule=moves))


SHORT = short()


@pytest.mark.parametrize("by", [2, -2])
def test_keys_that_are_all_late_by_as_much_are_one_fault(by: int) -> None:
    late = replace(reading_of(later(SHORT, by)), frames=SHORT.frames)
    (one,) = judged(late, SHORT)
    way = "late" if by > 0 else "early"
    assert (one.code, one.subject, one.amount) == (f"height-{way}", "camera", 2)
    assert f"all moves of the scene are 2 frames {way}" in one.message


@pytest.mark.parametrize("hills_to", [0.14, 0.1])
def test_a_level_that_is_late_with_the_camera_is_told_with_it(hills_to: float) -> None:
    plan = short(hills_to=hills_to)
    late = reading_of(later(plan, 2))
    corners = late.corners.copy()
    corners[:, 0] = reading_of(plan).corners[:, 0]
    (one,) = judged(replace(late, corners=corners), plan)
    assert (one.code, one.subject) == ("height-late", "camera")
    assert "(camera height, hills height)" in one.message


def test_a_level_that_is_late_alone_is_told_alone() -> None:
    corners = reading_of(SHORT).corners.copy()
    corners[:, 1] = reading_of(later(SHORT, 2)).corners[:, 1]
    (one,) = judged(replace(reading_of(SHORT), corners=corners), SHORT)
    assert (one.code, one.subject) == ("height-late", "hills")


def test_of_keys_that_are_late_it_is_not_told_what_is_between_them() -> None:
    late = reading_of(later(SHORT, 2))
    corners = reading_of(SHORT).corners
    facts = late.camera_facts | {"curves": ["Location X Bezier"]}
    (one,) = judged(replace(late, corners=corners, camera_facts=facts), SHORT)
    assert one.code == "height-late"
    assert "Bezier" not in one.message


def test_what_another_camera_does_is_told_as_one_fault() -> None:
    reading = with_camera_at(reading_of(PLAN), up=0.2, ours=False, name="Camera")
    reading = replace(reading, camera=replace(reading.camera, lens_mm=reading.camera.lens_mm * 1.1))
    (one,) = judged(reading)
    assert one.code == "other-camera"
    assert "together" not in one.message
