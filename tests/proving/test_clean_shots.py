# SPDX-License-Identifier: GPL-3.0-or-later
"""A shot that is built as planned is measured to a few thousandths of a pixel, whatever stands on the stand."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

import small_shots
from small_shots import PARALLEL, PERSPECTIVE, Glass
from underglass.proof.proof_facts import PASS, Measurement, Proof

pytestmark = [pytest.mark.bpy, pytest.mark.render]

# What the project promises of a clean scene at the size of a film frame.
RMS_PX = 0.001
WORST_PX = 0.004
FILM_FRAME = (1828, 1332)

ProofOf = Callable[..., Proof]


def errors(proof: Proof) -> np.ndarray:
    """Return the errors of all that was seen, px."""
    return np.array([m.error_px for m in proof.measurements if m.error_px is not None])


def of_level(proof: Proof, name: str) -> list[Measurement]:
    """Return the measurements of one level, frame by frame."""
    return [m for m in proof.measurements if m.level == name]


@pytest.mark.parametrize("step", [1, 2])
def test_the_calibration_cards_are_measured_to_thousandths_of_a_pixel(
    step: int, tmp_path: Path, proof_of: ProofOf
) -> None:
    shot_file = small_shots.calibration(tmp_path / "shot", frame_px=FILM_FRAME)
    proof = proof_of(shot_file, step=step, frames=(1, 14, 25))
    assert (proof.verdict, proof.faults) == (PASS, ())
    assert len(errors(proof)) == 25 * 4
    assert (proof.rendered_frames, proof.test_frames) == (tuple(range(1, 26)), (1, 14, 25))
    assert np.sqrt(np.mean(errors(proof) ** 2)) <= RMS_PX
    assert errors(proof).max() <= WORST_PX
    assert proof.checked_frames == tuple(range(1, 26))


def test_the_calibration_cards_measure_what_the_sheet_of_paper_says(tmp_path: Path, proof_of: ProofOf) -> None:
    proof = proof_of(small_shots.calibration(tmp_path / "shot", frame_px=(1000, 750)), frames=(1, 25))
    looks = {(m.level, m.frame): m.measured for m in proof.measurements}
    by_hand = {
        ("card A", 1): (240, -150, 90, 0),
        ("card A", 25): (400, -250, 150, 0),
        ("card B", 1): (240, 180, -120, 15),
        ("card B", 25): (300, 225, -150, 15),
        ("card C", 1): (240, 240, 180, 0),
        ("card C", 25): (240, 240, 180, 0),
        ("card D", 1): (1080, 0, 0, 0),
        ("card D", 25): (1200, 0, 0, 0),
    }
    for key, wanted in by_hand.items():
        look = looks[key]
        assert look is not None
        assert (look.size_px, look.x, look.y, look.turn) == pytest.approx(wanted, abs=2 * WORST_PX), key


def test_an_anamorphic_lens_and_a_turned_level(tmp_path: Path, proof_of: ProofOf) -> None:
    glasses = [Glass("turned", 900.0, turn=30.0, east=10.0, north=5.0), Glass("ground", 100.0, width=900.0)]
    proof = proof_of(small_shots.stack(tmp_path, glasses, camera=PERSPECTIVE + "squeeze = 2.0\n"))
    assert (proof.verdict, proof.faults) == (PASS, ())
    assert errors(proof).max() <= WORST_PX
    look = of_level(proof, "turned")[0].measured
    assert look is not None
    assert look.turn == pytest.approx(30.0, abs=0.01)


def test_a_lens_that_stretches_the_other_way(tmp_path: Path, proof_of: ProofOf) -> None:
    proof = proof_of(
        small_shots.stack(tmp_path, [Glass("a", 900.0, turn=-20.0)], camera=PERSPECTIVE + "squeeze = 0.75\n")
    )
    assert (proof.verdict, proof.faults) == (PASS, ())
    assert errors(proof).max() <= WORST_PX


def test_an_orthographic_camera_sees_every_height_at_one_scale(tmp_path: Path, proof_of: ProofOf) -> None:
    glasses = [Glass("high", 1000.0, east=-12.0), Glass("low", 10.0, east=12.0, north=8.0, turn=15.0)]
    proof = proof_of(small_shots.stack(tmp_path, glasses, camera=PARALLEL))
    assert (proof.verdict, proof.faults) == (PASS, ())
    sizes = [m.measured.size_px for m in proof.measurements if m.measured]
    assert sizes == pytest.approx([160.0] * len(sizes), abs=2 * WORST_PX)


def test_a_stack_too_tall_for_one_render_with_everything_behind_an_opaque_level(
    tmp_path: Path, proof_of: ProofOf
) -> None:
    lid = Glass("lid", 1150.0, width=200.0)
    others = [Glass(f"level {i}", 1100.0 - 100 * i, east=i - 4.0, turn=3.0 * i, width=30 + 8.0 * i) for i in range(10)]
    proof = proof_of(small_shots.stack(tmp_path, [lid, *others]), frames=(1, 3))
    assert (proof.verdict, proof.faults) == (PASS, ())
    assert len(errors(proof)) == 3 * 11
    assert all(m.seen for m in proof.measurements)
    assert errors(proof).max() <= WORST_PX


def test_a_level_that_leaves_the_frame_is_measured_while_it_can_be_seen(tmp_path: Path, proof_of: ProofOf) -> None:
    # The field at 400 mm is 400·20/60 = 133 mm wide: its edge lies 66.7 mm east of the axis.
    schedule = "part,axis,first,last,from,to\nleaver,east,1,9,60,100\n"
    glasses = [Glass("leaver", 900.0, east=60.0), Glass("outside", 800.0, east=-200.0)]
    proof = proof_of(small_shots.stack(tmp_path, glasses, schedule=schedule, frames=(1, 9)), frames=(1, 3, 9))
    assert (proof.verdict, proof.faults) == (PASS, ())
    # On frame 6 its western edge is 65 mm east of the axis, on frame 7 70 mm.
    assert [m.seen for m in of_level(proof, "leaver")] == [True] * 6 + [False] * 3
    assert [(m.seen, m.measured, m.verdict) for m in of_level(proof, "outside")] == [(False, None, PASS)] * 9
    assert "out of the frame" in of_level(proof, "outside")[0].remark
    assert errors(proof).max() <= WORST_PX


def test_a_level_that_moves_on_twos(tmp_path: Path, proof_of: ProofOf) -> None:
    schedule = "part,axis,first,last,from,to\nwalker,east,1,9,-8,8\ncamera,east,1,9,0,4\n"
    glasses = [Glass("walker", 900.0, east=-8.0, more="on = 2\n"), Glass("ground", 100.0, width=500.0)]
    shot_file = small_shots.stack(tmp_path, glasses, schedule=schedule, frames=(1, 9))
    proof = proof_of(shot_file, frames=(1, 2, 3, 4))
    assert (proof.verdict, proof.faults) == (PASS, ())
    # k = 400·60/(20·400) = 3 px a mm; the walker steps 4 mm on every second frame, the camera half a mm on each.
    places = [m.measured.x for m in of_level(proof, "walker") if m.measured]
    assert places == pytest.approx([-24.0, -25.5, -15.0, -16.5, -6.0, -7.5, 3.0, 1.5, 12.0], abs=2 * WORST_PX)


def test_a_focus_at_infinity_and_a_camera_that_turns(tmp_path: Path, proof_of: ProofOf) -> None:
    camera = PERSPECTIVE.replace("focus = 300.0", 'focus = "infinity"\nf_stop = 8')
    schedule = "part,axis,first,last,from,to,law\ncamera,turn,1,9,0,-40,sine\ncamera,focal_mm,1,9,50,70,ratio\n"
    glasses = [Glass("a", 900.0, east=8.0, north=3.0), Glass("b", 100.0, width=400.0)]
    proof = proof_of(small_shots.stack(tmp_path, glasses, camera=camera, schedule=schedule, frames=(1, 9)))
    assert (proof.verdict, proof.faults) == (PASS, ())
    assert errors(proof).max() <= WORST_PX


@pytest.mark.parametrize("frame_px", [(301, 227), (150, 400)], ids=["odd", "upright"])
def test_a_frame_of_any_shape(frame_px: tuple[int, int], tmp_path: Path, proof_of: ProofOf) -> None:
    glasses = [Glass("a", 900.0, turn=10.0), Glass("b", 100.0, width=300.0)]
    proof = proof_of(small_shots.stack(tmp_path, glasses, frame_px=frame_px), frames=(1,))
    assert (proof.verdict, proof.faults) == (PASS, ())
    assert errors(proof).max() <= WORST_PX


def test_pictures_are_made_beside_the_passes(tmp_path: Path, proof_of: ProofOf) -> None:
    glasses = [Glass("a", 900.0), Glass("b", 100.0, width=300.0)]
    proof = proof_of(small_shots.stack(tmp_path, glasses), frames=(1, 3), pictures=True)
    assert proof.verdict == PASS
    assert sorted(proof.pictures) == [1, 3]
    assert all(path.is_file() for path in proof.pictures.values())


def test_every_stage_of_the_work_counts_its_own_time_and_pictures_are_no_passes(
    tmp_path: Path, proof_of: ProofOf
) -> None:
    shot_file = small_shots.stack(tmp_path, [Glass("a", 900.0), Glass("b", 100.0, width=300.0)])
    proof = proof_of(shot_file, frames=(1,), pictures=True)
    *stages, whole = proof.seconds.items()
    assert [name for name, _ in stages] == [
        "plan",
        "start and build",
        "read every frame",
        "measure every frame",
        "measure test frames",
        "render pictures",
        "judge",
    ]
    assert whole == ("all", pytest.approx(sum(seconds for _, seconds in stages), abs=0.05))
