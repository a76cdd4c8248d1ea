# SPDX-License-Identifier: GPL-3.0-or-later
"""Levels that stood elsewhere when the frames were rendered: found by their pixels, and named as an operator would."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import small_shots
from delivered.conftest import MAKING, judged, lay_out, lay_out_mist
from delivered.made_frames import Making, Stand, put, rewrite, write_frames
from underglass.plan import Plan, make_plan
from underglass.proof.proof_facts import BLOCK, FAIL, PASS, Proof
from underglass.shot.files import read_shot

pytestmark = pytest.mark.once

MM = 0.001


@dataclass(frozen=True)
class Wrong:
    """How the stand stood on each frame, and what has to be said of it: code, who, words, and about how much."""

    stand: Callable[[int, Stand], Stand]
    code: str
    subject: str
    words: str
    amount: float | None = None
    frames: tuple[int, int] = (1, 12)
    # Art that is larger is so both ways.
    also: tuple[tuple[str, str], ...] = ()


def late(frame: int, stand: Stand, plan: Plan) -> Stand:
    before = max(0, frame - 1 - 2)
    east = float(plan.tracks.levels["east"][before, plan.names.index("reeds")])
    return put(stand, "reeds", east=east - stand.levels["reeds"]["east"])


def mirrored_move(frame: int, stand: Stand) -> Stand:
    """The sky goes east where it should go west."""
    return put(stand, "sky", east=-2 * stand.levels["sky"]["east"])


WRONG = {
    "east": Wrong(
        lambda frame, stand: put(stand, "boat", east=1.5 * MM),
        "east-offset",
        "boat",
        "boat is 1.5 mm too far east from frame 1 to 12",
        1.5,
    ),
    "low": Wrong(
        lambda frame, stand: put(stand, "hills", height=-4 * MM),
        "height-offset",
        "hills",
        "hills is 4 mm too low",
        -4.0,
    ),
    "turned": Wrong(
        lambda frame, stand: put(stand, "reeds", turn=-0.02), "turn-offset", "reeds", "too far clockwise", -1.146
    ),
    "reversed": Wrong(mirrored_move, "east-reversed", "sky", "sky goes east where west was planned", frames=(4, 12)),
    "one frame": Wrong(
        lambda frame, stand: put(stand, "boat", north=0.8 * MM) if frame == 6 else stand,
        "north-strays",
        "boat",
        "boat is off on frame 6: it is 0.8 mm too far north",
        0.8,
        frames=(6, 6),
    ),
    "wide": Wrong(
        lambda frame, stand: put(stand, "sky", width=5 * MM),
        "width-offset",
        "sky",
        "sky is 5 mm too wide, and as much too tall (0.893 %)",
    ),
    "camera east": Wrong(
        lambda frame, stand: put(stand, "camera", east=0.7 * MM),
        "east-offset",
        "camera",
        "the camera is 0.7 mm too far east from frame 1 to 12",
        0.7,
    ),
    "camera high": Wrong(
        lambda frame, stand: put(stand, "camera", height=6 * MM),
        "height-offset",
        "camera",
        "the camera is 6 mm too high",
    ),
    "camera turned": Wrong(
        lambda frame, stand: put(stand, "camera", turn=0.01),
        "turn-offset",
        "camera",
        "too far counter-clockwise",
        0.573,
    ),
    "lens": Wrong(
        lambda frame, stand: replace(stand, lens=1.01), "lens-offset", "camera", "has its lens 0.6 mm too long (1 %)"
    ),
}


def blocks(proof: Proof) -> list[tuple[str, str]]:
    return [(fault.code, fault.subject) for fault in proof.faults if fault.severity == BLOCK]


@pytest.mark.parametrize("name", WRONG)
def test_who_is_off_which_way_and_how_far_is_read_from_the_pixels(
    name: str, plan: Plan, tmp_path: Path, proof_of: Callable[..., Proof]
) -> None:
    wrong = WRONG[name]
    write_frames(plan, tmp_path / "frames", making=MAKING, stand=wrong.stand)
    proof = proof_of(tmp_path / "frames")
    assert proof.verdict == FAIL
    assert blocks(proof) == [(wrong.code, wrong.subject), *wrong.also]
    fault = proof.faults[0]
    assert wrong.words in fault.message
    assert fault.frames == wrong.frames
    if wrong.amount is not None:
        assert fault.amount == pytest.approx(wrong.amount, rel=0.02)


def test_where_the_camera_explains_all_but_a_level_that_is_said(
    plan: Plan, tmp_path: Path, proof_of: Callable[..., Proof]
) -> None:
    def three(frame: int, stand: Stand) -> Stand:
        for name in ("boat", "hills", "sky"):
            stand = put(stand, name, east=MM)
        return stand

    write_frames(plan, tmp_path / "frames", making=MAKING, stand=three)
    told = [fault.message for fault in proof_of(tmp_path / "frames").faults if fault.severity == BLOCK]
    assert len(told) == 1
    assert "camera" in told[0]
    assert told[0].endswith("once that is corrected, reeds, now in place on screen, will be off by as much")


def test_a_level_that_moved_two_frames_late(plan: Plan, tmp_path: Path, proof_of: Callable[..., Proof]) -> None:
    write_frames(plan, tmp_path / "frames", making=MAKING, stand=lambda frame, stand: late(frame, stand, plan))
    proof = proof_of(tmp_path / "frames")
    assert blocks(proof) == [("east-late", "reeds")]
    assert "makes its east move 2 frames late" in proof.faults[0].message


def test_what_is_said_holds_where_frames_are_missing(
    plan: Plan, tmp_path: Path, proof_of: Callable[..., Proof]
) -> None:
    kept = [1, 2, 5, 6, 11, 12]
    write_frames(plan, tmp_path / "frames", frames=kept, making=MAKING, stand=WRONG["east"].stand)
    said = [(fault.code, fault.frames) for fault in proof_of(tmp_path / "frames").faults if fault.severity == BLOCK]
    assert ("east-offset", (1, 12)) in said
    assert [frames for code, frames in said if code == "frame-missing"] == [(3, 4), (7, 10)]


def test_a_level_that_was_not_rendered_is_missed(plan: Plan, tmp_path: Path, proof_of: Callable[..., Proof]) -> None:
    write_frames(plan, tmp_path / "frames", making=replace(MAKING, hidden=("boat",)))
    proof = proof_of(tmp_path / "frames")
    assert blocks(proof) == [("not-seen", "boat")]
    assert proof.faults[0].message == ("boat should be in the picture on frames 1 to 12, but none of its pixels are")


def test_a_held_out_level_is_named_and_not_what_it_hides(tmp_path: Path) -> None:
    # Held out, a thin mist hides whatever is behind any of it, and no pass of it is written.
    small_shots.one_colour(tmp_path / "art/mist.png", (200, 200, 200, 90))
    glasses = [
        small_shots.Glass("reeds", 800.0, width=40.0, east=-60.0),
        small_shots.Glass("mist", 600.0, width=160.0, east=40.0, art="art/mist.png"),
        small_shots.Glass("card", 500.0, width=60.0, east=40.0),
        small_shots.Glass("hills", 300.0, width=160.0, east=-120.0, north=-60.0),
        small_shots.Glass("sky", 100.0, width=560.0, art="art/dusk.png"),
    ]
    Image.linear_gradient("L").convert("RGB").save(tmp_path / "art/dusk.png")
    shot = small_shots.stack(tmp_path, glasses, frame_px=(160, 120), frames=(1, 2))
    plan = make_plan(read_shot(shot))

    def hold_out(channels: dict[str, np.ndarray]) -> None:
        mist = channels["ViewLayer.proof1.B"] > 0
        for name, values in channels.items():
            if "proof" in name and "proof0" not in name:
                values[mist] = 0

    for path in write_frames(plan, tmp_path / "frames", making=replace(MAKING, clear=("mist",))):
        rewrite(path, hold_out)
    proof = judged(shot, tmp_path / "frames")
    assert blocks(proof) == [("not-seen", "mist")]
    assert {m.remark for m in proof.measurements if m.level == "card"} == {"mist, which is missing, hides it"}
    # Two levels that are not rendered hide nothing: the sky is seen where they should be.
    write_frames(plan, tmp_path / "without", making=replace(MAKING, clear=("mist",), hidden=("mist", "card")))
    assert blocks(judged(shot, tmp_path / "without")) == [("not-seen", "mist"), ("not-seen", "card")]


def test_levels_that_others_hide_are_not_missed(tmp_path: Path) -> None:
    glasses = [small_shots.Glass("card", 600.0, width=560.0), small_shots.Glass("sky", 100.0, width=560.0)]
    shot = small_shots.stack(tmp_path, glasses, frame_px=(160, 120), frames=(1, 2))
    write_frames(make_plan(read_shot(shot)), tmp_path / "frames", making=MAKING)
    proof = judged(shot, tmp_path / "frames")
    assert proof.verdict == PASS
    assert {m.level for m in proof.measurements if not m.seen} == {"sky"}


def test_a_level_that_shows_only_thinly_is_not_passed_unseen(tmp_path: Path) -> None:
    # EEVEE writes nothing of what is nowhere opaque.
    shot = lay_out_mist(tmp_path)
    plan = make_plan(read_shot(shot))
    making = replace(MAKING, eevee=True, samples=16, clear=("mist",))
    write_frames(plan, tmp_path / "eevee", making=making)
    proof = judged(shot, tmp_path / "eevee", tolerance_px=0.8)
    assert blocks(proof) == [("not-proved", "mist")]
    assert "frames 1-2 show mist nowhere so that its place can be told" in proof.faults[0].message
    write_frames(plan, tmp_path / "cycles", making=replace(MAKING, clear=("mist",)))
    assert judged(shot, tmp_path / "cycles").faults == ()


def test_something_that_stands_before_a_level_cuts_it_off(
    plan: Plan, tmp_path: Path, proof_of: Callable[..., Proof]
) -> None:
    paths = write_frames(plan, tmp_path / "frames", making=MAKING)

    def cover(channels: dict[str, np.ndarray]) -> None:
        for letter in "RGB":
            channels[f"ViewLayer.proof3.{letter}"][:, :200] = 0

    for path in paths[3:8]:
        rewrite(path, cover)
    proof = proof_of(tmp_path / "frames")
    assert blocks(proof) == [("cut-off", "sky")]
    assert proof.faults[0].frames == (4, 8)


KINDS = {
    "single sample": Making(),
    "many samples": Making(samples=24),
    "half floats": Making(half=True),
    "EEVEE": Making(eevee=True, samples=16),
    "tiles": Making(tiled=True),
    "a part a pass": Making(parts=True),
    "PIZ": Making(compression="PIZ"),
    "PXR24": Making(compression="PXR24"),
    "overscan": Making(window=(-16, -9, -8, -4)),
    "a layer with dots": Making(layer="my.layer"),
    "no layer": Making(layer=""),
    "no alpha": Making(alpha=False),
}


@pytest.mark.parametrize("kind", KINDS)
def test_files_of_every_kind_are_measured_to_their_own_uncertainty(kind: str, shot: Path, tmp_path: Path) -> None:
    plan = make_plan(read_shot(shot))
    write_frames(plan, tmp_path / "frames", frames=[1, 6, 12], making=KINDS[kind])
    proof = judged(shot, tmp_path / "frames", frames=(1, 6, 12), tolerance_px=2.0)
    assert proof.verdict == PASS
    seen = [m for m in proof.measurements if m.error_px is not None]
    assert len(seen) >= 11
    # one in twenty may be out by more (JCGM 100, k = 2), but not by much
    beyond = sorted(m.error_px / m.uncertainty_px for m in seen)
    assert beyond[-3] <= 1.0
    assert beyond[-1] <= 1.5


def test_a_fault_is_said_of_no_frame_that_was_not_looked_at(shot: Path, tmp_path: Path) -> None:
    plan = make_plan(read_shot(shot))
    write_frames(plan, tmp_path / "frames", making=MAKING, stand=lambda frame, stand: put(stand, "boat", east=MM))
    for frames, words in (((6,), "on frame 6"), ((3, 4, 9), "from frame 3 to 9")):
        proof = judged(shot, tmp_path / "frames", frames=frames)
        assert [fault.frames for fault in proof.faults] == [(frames[0], frames[-1])]
        assert f"boat is 1 mm too far east {words}" in proof.faults[0].message


def test_a_parallel_camera_is_judged_too(tmp_path: Path) -> None:
    (tmp_path / "shot").mkdir()
    shot = lay_out(tmp_path / "shot", camera=small_shots.PARALLEL)
    plan = make_plan(read_shot(shot))
    write_frames(plan, tmp_path / "right", making=MAKING)
    write_frames(plan, tmp_path / "wrong", making=MAKING, stand=lambda frame, stand: put(stand, "boat", east=MM))
    assert judged(shot, tmp_path / "right").verdict == PASS
    proof = judged(shot, tmp_path / "wrong")
    assert blocks(proof) == [("east-offset", "boat")]
    assert proof.faults[0].amount == pytest.approx(1.0, rel=0.01)
