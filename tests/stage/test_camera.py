# SPDX-License-Identifier: GPL-3.0-or-later
"""The camera and the keys of a built scene: every frame reads what the plan says, with no key that is not needed."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import small_shots
from small_shots import PARALLEL, PERSPECTIVE, Glass
from underglass.plan import Plan, make_plan
from underglass.shot.files import read_shot

pytestmark = pytest.mark.bpy

# Single precision, and a few roundings on the way.
RELATIVE = 1e-6

MOVES = """\
part,axis,first,last,from,to,law,slow_out,slow_in,about
eased,east,5,20,-15,15,steady,4,4,
waved,turn,3,10,10,-30,sine,,,
rider,height,1,24,500,380,steady,,,
camera,height,1,24,1300,1180,steady,,,
camera,north,8,16,0,5,sine,,,
camera,turn,1,12,0,10,steady,,,
camera,focal_mm,1,24,50,60,ratio,,,
"""


def moving(folder: Path) -> Path:
    """Lay out a shot with every law and axis: focus follows a level that comes nearer."""
    camera = PERSPECTIVE.replace("focus = 300.0", 'focus = "rider"\nf_stop = 8')
    glasses = [
        Glass("eased", 900.0, east=-15.0),
        Glass("waved", 800.0, turn=10.0),
        Glass("rider", 500.0),
        Glass("still", 100.0, width=400.0, north=3.0),
    ]
    return small_shots.stack(folder, glasses, camera=camera, schedule=MOVES, frames=(1, 24))


@pytest.fixture(scope="module")
def shots(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Return shot files by what is special about them."""

    def folder(name: str) -> Path:
        return tmp_path_factory.mktemp(name)

    grey = [Glass("a", 900.0)]
    riding = "part,axis,first,last,from,to\na,height,1,3,900,850\ncamera,height,1,3,1300,1250\n"
    following = PERSPECTIVE.replace("focus = 300.0", 'focus = "a"\nf_stop = 8')
    infinite = PERSPECTIVE.replace("focus = 300.0", 'focus = "infinity"\nf_stop = 8')
    return {
        "moving": moving(folder("moving")),
        "parallel": small_shots.stack(folder("parallel"), grey, camera=PARALLEL, fps=23.976),
        "squeezed": small_shots.stack(folder("squeezed"), grey, camera=PERSPECTIVE + "squeeze = 2.0\n", fps=12.5),
        "narrow": small_shots.stack(folder("narrow"), grey, camera=PERSPECTIVE + "squeeze = 0.75\n", fps=25),
        "riding": small_shots.stack(folder("riding"), grey, camera=following, schedule=riding),
        "infinite": small_shots.stack(folder("infinite"), grey, camera=infinite, fps=59.94, frames=(0, 3)),
    }


@pytest.fixture(scope="module")
def built(shots: dict[str, Path], run_in_blender: Callable[..., Any]) -> dict[str, Any]:
    """Return what Blender answers of each shot."""
    said = run_in_blender(Path(__file__).with_name("camera_facts.py"), *shots.values())
    return {name: said[str(path)] for name, path in shots.items()}


@pytest.fixture(scope="module")
def plans(shots: dict[str, Path]) -> dict[str, Plan]:
    return {name: make_plan(read_shot(path)) for name, path in shots.items()}


@pytest.mark.parametrize("name", ["moving", "parallel", "squeezed", "narrow", "riding", "infinite"])
def test_every_axis_reads_on_every_frame_what_the_plan_says(
    name: str, built: dict[str, Any], plans: dict[str, Plan]
) -> None:
    plan, values = plans[name], built[name]["values"]
    for column, part in enumerate(("camera", *plan.names)):
        seen = np.array(values[part])
        tracks = plan.tracks.camera if part == "camera" else plan.tracks.levels
        for index, axis in enumerate(("east", "north", "height", "turn")):
            wanted = tracks[axis] if part == "camera" else tracks[axis][:, column - 1]
            reach = max(1.0 if axis == "turn" else 0.0, float(np.abs(wanted).max()))
            assert seen[:, index] == pytest.approx(wanted, abs=RELATIVE * reach), (part, axis)


def test_the_lens_is_as_long_as_its_image_distance_and_the_stop_goes_with_it(
    built: dict[str, Any], plans: dict[str, Plan]
) -> None:
    plan = plans["moving"]
    lens, stop, focus = np.array(built["moving"]["lens"]).T
    f, u = plan.tracks.camera["focal"] * 1000, plan.distance[:, plan.names.index("rider")] * 1000
    v = f * u / (u - f)
    assert np.ptp(v) > 1.0
    assert lens == pytest.approx(v, rel=RELATIVE)
    assert stop == pytest.approx(8 * v / f, rel=RELATIVE)
    assert focus == pytest.approx(u / 1000, rel=RELATIVE)


def test_a_lens_at_infinity_stands_at_its_marked_length(built: dict[str, Any]) -> None:
    lens, stop, focus = np.array(built["infinite"]["lens"]).T
    assert lens == pytest.approx(50.0, rel=RELATIVE)
    assert stop == pytest.approx(8.0, rel=RELATIVE)
    assert (focus >= 1000.0).all()


def test_the_gate_is_the_sensor_fitted_by_its_width(built: dict[str, Any]) -> None:
    camera = built["moving"]["camera"]
    assert (camera["type"], camera["fit"], camera["use_dof"], camera["shift"]) == ("PERSP", "HORIZONTAL", True, [0, 0])
    assert camera["sensor"] == pytest.approx([20.0, 15.0], rel=RELATIVE)


def test_without_an_f_stop_everything_is_sharp(built: dict[str, Any]) -> None:
    assert not built["squeezed"]["camera"]["use_dof"]


def test_an_anamorphic_lens_takes_in_more_and_its_pixels_are_wider(built: dict[str, Any]) -> None:
    for name, squeeze in (("squeezed", 2.0), ("narrow", 0.75)):
        assert built[name]["camera"]["sensor"] == pytest.approx([20.0 * squeeze, 15.0], rel=RELATIVE)
        assert built[name]["scene"]["aspect"] == pytest.approx(squeeze, rel=RELATIVE)
        assert built[name]["scene"]["size"] == [400, 300, 100]


def test_parallel_rays_take_in_the_field(built: dict[str, Any]) -> None:
    camera = built["parallel"]["camera"]
    assert (camera["type"], camera["fit"]) == ("ORTHO", "HORIZONTAL")
    assert camera["ortho_scale"] == pytest.approx(0.1, rel=RELATIVE)
    assert built["parallel"]["scene"]["aspect"] == 1.0


def test_frames_rate_and_colours_of_the_scene(built: dict[str, Any]) -> None:
    rates = {"moving": 24, "parallel": 23.976, "squeezed": 12.5, "narrow": 25, "infinite": 59.94}
    for name, rate in rates.items():
        assert built[name]["scene"]["fps"] == pytest.approx(rate, rel=RELATIVE), name
        assert built[name]["scene"]["view"] == "Standard"
    assert built["moving"]["scene"]["frames"] == [1, 24]
    assert built["infinite"]["scene"]["frames"] == [0, 3]


def test_a_steady_move_has_keys_where_it_gains_and_loses_speed_and_nowhere_else(built: dict[str, Any]) -> None:
    keys = built["moving"]["keys"]["eased"]
    assert list(keys) == ["location[0]"]
    # 4 steps of slow-out from frame 5 and 4 of slow-in up to 20, with their ends; and both ends of the shot.
    assert keys["location[0]"] == {"frames": [1, *range(5, 10), *range(16, 21), 24], "kinds": ["LINEAR"]}


def test_a_move_at_constant_speed_has_two_keys_and_a_wave_one_on_every_frame(built: dict[str, Any]) -> None:
    keys = built["moving"]["keys"]
    assert keys["rider"] == {"location[2]": {"frames": [1, 24], "kinds": ["LINEAR"]}}
    assert keys["waved"] == {"rotation_euler[2]": {"frames": [1, *range(3, 11), 24], "kinds": ["LINEAR"]}}
    assert keys["camera"]["location[2]"]["frames"] == [1, 24]
    assert keys["camera"]["rotation_euler[2]"]["frames"] == [1, 12, 24]


def test_what_never_moves_has_no_key(built: dict[str, Any]) -> None:
    assert built["moving"]["keys"]["still"] == {}
    assert "location[0]" not in built["moving"]["keys"]["camera"]
    for name in ("parallel", "squeezed", "infinite"):
        assert built[name]["keys"] == {"camera": {}, "a": {}}, name


def test_a_level_in_focus_that_rides_with_the_lens_leaves_the_lens_without_keys(built: dict[str, Any]) -> None:
    assert list(built["riding"]["keys"]["camera"]) == ["location[2]"]


LONG_AND_SLOW = """
import numpy as np
from underglass.plan import motion_laws
from underglass.stage.bake_keys import KEEP_ABOVE, keys_needed

worst, counts = {}, {}
steps = np.arange(10_000)
tracks = {
    # a tenth of an inch in seven minutes: no frame bends by as much as is kept
    "sine": motion_laws.sine(steps, span=9999, start=0.0, end=0.00254),
    "ratio": motion_laws.ratio(steps, span=9999, start=1.0, end=1.001),
    "steady": motion_laws.steady(steps, span=9999, start=1.0, end=1.5),
    "eased": motion_laws.steady(steps, span=9999, start=0.0, end=0.01, slow_out=5000, slow_in=4999),
}
for name, track in tracks.items():
    needed = keys_needed(track)
    worst[name] = float(np.abs(np.interp(steps, steps[needed], track[needed]) - track).max() / KEEP_ABOVE)
    counts[name] = int(needed.sum())
answer({"worst": worst, "counts": counts})
"""


def test_a_long_slow_move_keeps_to_its_curve(run_in_blender: Callable[..., Any]) -> None:
    said = run_in_blender(LONG_AND_SLOW)
    assert all(share <= 1.0 for share in said["worst"].values()), said
    assert said["counts"]["steady"] == 2
