# SPDX-License-Identifier: GPL-3.0-or-later
"""Other people's cameras: OpenCV and OpenUSD put the corners of every level where the plan puts them.

Each has its own axes, so each is told of the stand in its own words; only the readings of the tracks are shared.
"""

import math
from collections.abc import Callable
from types import ModuleType

import numpy as np
import pytest
from hypothesis import given, settings

from plan.plannable import plannable_shots
from underglass.optics.projection import px_from_stand, px_per_metre
from underglass.optics.thin_lens import field_width, lens_angle
from underglass.plan import Plan, corners_px, make_plan
from underglass.shot import Projection, Shot

Oracle = Callable[[str], ModuleType]

# Corners far outside the frame have many digits before the point; rounding takes its share of all of them.
CLOSE_PX = 1e-6
CLOSE = 1e-10
# GfCamera keeps its lens and apertures in single precision; GfFrustum is double throughout.
SINGLE = 1e-6

# A shot costs a call a frame, so a few rich ones do better than many.
FEW = settings(max_examples=25)


def stand_corners(plan: Plan, row: int) -> np.ndarray:
    """Return the corners of every level on the stand in metres, (L, 4, 3), by complex numbers: not the plan's way."""
    places = []
    for column, level in enumerate(plan.shot.levels):
        at = {axis: track[row, column] for axis, track in plan.tracks.levels.items()}
        half = complex(level.art_width, level.art_width * level.art_px[1] / level.art_px[0]) / 2
        around = [-half, half.conjugate(), half, -half.conjugate()]
        turned = [corner * complex(math.cos(at["turn"]), math.sin(at["turn"])) for corner in around]
        places.append([(at["east"] + c.real, at["north"] + c.imag, at["height"]) for c in turned])
    return np.array(places)


def image_distances(plan: Plan) -> list[float]:
    """Return how far the film is behind the lens on every frame, by 1/f = 1/u + 1/v."""
    shot = plan.shot
    found = []
    for row, focal in enumerate(plan.tracks.camera["focal"]):
        u = shot.camera.focus.distance
        if shot.camera.focus.level:
            level = plan.tracks.levels["height"][row, shot.names.index(shot.camera.focus.level)]
            u = plan.tracks.camera["height"][row] - level
        found.append(1 / (1 / focal - (0 if math.isinf(u) else 1 / u)))
    return found


def from_centre(places: np.ndarray, frame_px: tuple[int, int]) -> np.ndarray:
    """Return OpenCV's places, whole numbers at pixel centres from the top left, from the frame's centre, y up."""
    width, height = frame_px
    return (places - np.array([width / 2 - 0.5, height / 2 - 0.5])) * np.array([1, -1])


@FEW
@given(shot=plannable_shots(most_levels=5, most_frames=12, projection=Projection.PERSPECTIVE))
def test_opencv_projects_every_corner_to_the_same_pixel(shot: Shot, oracle: Oracle) -> None:
    cv2 = oracle("cv2")
    plan = make_plan(shot)
    planned = corners_px(plan)
    width, height = shot.camera.frame_px
    for row, v in enumerate(image_distances(plan)):
        # x right, y down, z away from the lens: the stand upside down. OpenCV turns the scene, not the camera.
        upside_down = stand_corners(plan, row).reshape(-1, 3) * np.array([1, -1, -1])
        camera = {axis: track[row] for axis, track in plan.tracks.camera.items()}
        turned = cv2.Rodrigues(np.array([0, 0, camera["turn"]]))[0]
        shift = -turned @ np.array([camera["east"], -camera["north"], -camera["height"]])
        across = width * v / (shot.camera.gate.width * shot.camera.squeeze)
        down = width * v / shot.camera.gate.width
        lens = np.array([[across, 0, width / 2 - 0.5], [0, down, height / 2 - 0.5], [0, 0, 1.0]])
        seen, _ = cv2.projectPoints(upside_down, np.array([0, 0, camera["turn"]]), shift, lens, np.zeros(5))
        seen = from_centre(seen.reshape(-1, 4, 2), shot.camera.frame_px)
        np.testing.assert_allclose(planned[row], seen, rtol=CLOSE, atol=CLOSE_PX)


@FEW
@given(shot=plannable_shots(most_levels=5, most_frames=12))
def test_an_openusd_frustum_sees_every_corner_at_the_same_pixel(shot: Shot, oracle: Oracle) -> None:
    gf = oracle("pxr.Gf")
    plan = make_plan(shot)
    planned = corners_px(plan)
    width, height = shot.camera.frame_px
    parallel = shot.camera.projection is Projection.ORTHOGRAPHIC
    images = [math.nan] * len(plan.frames) if parallel else image_distances(plan)
    for row, v in enumerate(images):
        # The window is on a plane one unit in front of the lens; for parallel rays it is the field itself.
        field = shot.camera.field_width if parallel else shot.camera.gate.width * shot.camera.squeeze / v
        half = gf.Vec2d(field / 2, field * height / width / shot.camera.squeeze / 2)
        camera = {axis: track[row] for axis, track in plan.tracks.camera.items()}
        frustum = gf.Frustum(
            gf.Vec3d(camera["east"], camera["north"], camera["height"]),
            gf.Rotation(gf.Vec3d(0, 0, 1), math.degrees(camera["turn"])),
            gf.Range2d(-half, half),
            gf.Range1d(0.01, 100.0),
            gf.Frustum.Orthographic if parallel else gf.Frustum.Perspective,
        )
        seen = through(frustum, stand_corners(plan, row), shot.camera.frame_px)
        np.testing.assert_allclose(planned[row], seen, rtol=CLOSE, atol=CLOSE_PX)


@FEW
@given(shot=plannable_shots(most_levels=3, most_frames=4, projection=Projection.PERSPECTIVE))
def test_an_openusd_camera_with_the_image_distance_for_its_focal_length_sees_the_same(
    shot: Shot, oracle: Oracle
) -> None:
    gf = oracle("pxr.Gf")
    plan = make_plan(shot)
    planned = corners_px(plan)
    width, height = shot.camera.frame_px
    for row, v in enumerate(image_distances(plan)):
        camera = {axis: track[row] for axis, track in plan.tracks.camera.items()}
        turn = gf.Matrix4d().SetRotate(gf.Rotation(gf.Vec3d(0, 0, 1), math.degrees(camera["turn"])))
        # Lens and aperture are in tenths of the scene's unit: millimetres, where the scene is in centimetres.
        place = gf.Vec3d(*(100 * camera[axis] for axis in ("east", "north", "height")))
        usd = gf.Camera(
            transform=turn * gf.Matrix4d().SetTranslate(place),
            horizontalAperture=1000 * shot.camera.gate.width * shot.camera.squeeze,
            verticalAperture=1000 * shot.camera.gate.width * height / width,
            focalLength=1000 * v,
        )
        seen = through(usd.frustum, 100 * stand_corners(plan, row), shot.camera.frame_px)
        np.testing.assert_allclose(planned[row], seen, rtol=SINGLE, atol=SINGLE * max(width, height))


def through(frustum: object, places: np.ndarray, frame_px: tuple[int, int]) -> np.ndarray:
    """Return where ``places`` (..., 3) are in the picture: OpenUSD's own goes from −1 to 1 both ways, y up."""
    matrix = np.array(frustum.ComputeViewMatrix() * frustum.ComputeProjectionMatrix())
    rows = np.concatenate([places, np.ones((*places.shape[:-1], 1))], axis=-1) @ matrix
    return rows[..., :2] / rows[..., 3:] * np.array(frame_px) / 2


# The lens that rows printed below were worked out for with OpenCV 5.0: 50 mm, 36 mm wide gate, 1920 × 1080.
WIDE = {"frame_px": (1920, 1080), "lens_px": 1920 * 50 / 36}
FACING = [
    ((0.1, 0, 1), (1226.1667, 539.5)),
    ((0.1, 0.05, 2), (1092.8333, 606.1667)),
    ((-0.2, 0.1, 4), (826.1667, 606.1667)),
]
TURNED = [
    ((0, 0, 1), (977.27778, 503.94444)),
    ((0.1, 0, 1), (1152.35471, 534.81523)),
    ((0.1, 0.05, 2), (1065.95159, 589.21222)),
    ((-0.2, 0.1, 4), (838.41770, 565.42660)),
]


@pytest.mark.parametrize(("place", "pixel"), FACING)
def test_our_projection_gives_the_pixels_that_opencv_printed_for_a_camera_that_faces_them(
    place: tuple[float, ...], pixel: tuple[float, ...]
) -> None:
    # cv2.projectPoints of OpenCV 5.0 without rotation or distortion; its y points down, and pixel centres are whole.
    x, y = px_from_stand(
        place[0],
        north=-place[1],
        camera_turn=0.0,
        scale=px_per_metre(place[2], frame_width=1920, gate_width=36.0, squeeze=1, image=50.0),
        squeeze=1,
    )
    np.testing.assert_allclose([x, y], from_centre(np.array(pixel), WIDE["frame_px"]), atol=1e-4)


@pytest.mark.parametrize(("place", "pixel"), TURNED)
def test_our_projection_gives_the_pixels_that_opencv_printed_for_a_turned_and_shifted_camera(
    place: tuple[float, ...], pixel: tuple[float, ...]
) -> None:
    # cv2.projectPoints of OpenCV 5.0 with rvec (0, 0, 10°) and tvec (0.01, −0.02, 0.5). In stand words: a camera turned
    # 10° counter-clockwise whose axis meets the glasses at −R⁻¹·t, half a metre farther up.
    turn = math.radians(10)
    east = place[0] + (math.cos(turn) * 0.01 + math.sin(turn) * -0.02)
    south = place[1] + (-math.sin(turn) * 0.01 + math.cos(turn) * -0.02)
    x, y = px_from_stand(
        east,
        north=-south,
        camera_turn=turn,
        scale=px_per_metre(place[2] + 0.5, frame_width=1920, gate_width=36.0, squeeze=1, image=50.0),
        squeeze=1,
    )
    np.testing.assert_allclose([x, y], from_centre(np.array(pixel), WIDE["frame_px"]), atol=1e-5)


@pytest.mark.parametrize(("place", "pixel"), FACING)
def test_opencv_still_prints_the_same_pixels(
    place: tuple[float, ...], pixel: tuple[float, ...], oracle: Oracle
) -> None:
    cv2 = oracle("cv2")
    lens = np.array([[WIDE["lens_px"], 0, 959.5], [0, WIDE["lens_px"], 539.5], [0, 0, 1]])
    seen, _ = cv2.projectPoints(np.array([place], dtype=float), np.zeros(3), np.zeros(3), lens, np.zeros(5))
    np.testing.assert_allclose(seen.ravel(), pixel, atol=1e-4)


def test_lens_angles_of_openusd_s_own_camera_test() -> None:
    # OpenUSD testGfCamera.py: apertures 34 × 20, lens 50 → 37.556064606° and 22.619864948°; 65° → lens 26.6846561432
    np.testing.assert_allclose(np.degrees(lens_angle(34, image=50)), 37.556064606, atol=1e-8)
    np.testing.assert_allclose(np.degrees(lens_angle(20, image=50)), 22.619864948, atol=1e-8)
    np.testing.assert_allclose(np.degrees(lens_angle(34, image=26.6846561432)), 65, atol=1e-8)


def test_openusd_agrees_on_the_angles_of_an_academy_frame_with_a_50_mm_lens(oracle: Oracle) -> None:
    gf = oracle("pxr.Gf")
    usd = gf.Camera(horizontalAperture=21.946, verticalAperture=16.002, focalLength=50)
    np.testing.assert_allclose(np.degrees(lens_angle(21.946, image=50)), usd.horizontalFieldOfView, rtol=SINGLE)
    np.testing.assert_allclose(np.degrees(lens_angle(16.002, image=50)), usd.verticalFieldOfView, rtol=SINGLE)


def test_the_window_one_unit_from_a_50_mm_lens_is_the_gate_over_the_focal_length() -> None:
    # GfCamera of usd-core 26.11, 21.946 × 16.002, 50 mm: ±0.21946 and ±0.16002 at one unit; a point one unit off the
    # axis at ten units lies 0.4556639 of the way to the edge. OpenEXR, Technical Introduction: screen window = gate/f.
    np.testing.assert_allclose(field_width([21.946, 16.002], image=50, distance=1) / 2, [0.21946, 0.16002], rtol=1e-12)
    np.testing.assert_allclose(
        px_per_metre(10.0, frame_width=2, gate_width=21.946, squeeze=1, image=50.0), 0.4556639, atol=5e-8
    )
