# SPDX-License-Identifier: GPL-3.0-or-later
"""Data windows against the frame: overscan does no harm, and a frame that lacks pixels is a fault of its own."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import OpenEXR
import pytest

from delivered.conftest import MAKING
from delivered.made_frames import write_frames
from delivered.other_programs import contents, respell
from delivered.test_file_faults import blocks
from underglass.plan import Plan
from underglass.proof.proof_facts import PASS, Proof
from underglass_headless.exr.unreadable_forms import crop_of


@pytest.mark.parametrize(
    ("window", "words"),
    [
        ((3, 0, 0, 0), "3 px at the left: the data window is (3, 0) to (239, 179)"),
        ((0, 1, 0, 0), "1 px at the top: the data window is (0, 1) to (239, 179)"),
        ((0, 0, 7, 0), "7 px at the right: the data window is (0, 0) to (232, 179)"),
        ((0, 0, 0, 20), "20 px at the bottom: the data window is (0, 0) to (239, 159)"),
        (
            (3, 2, -8, 5),
            "3 px at the left and 2 px at the top and 5 px at the bottom: the data window is (3, 2) to (247, 174)",
        ),
    ],
)
def test_a_frame_that_lacks_pixels_is_a_fault_and_no_level_is_blamed(
    window: tuple[int, int, int, int], words: str, plan: Plan, delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    write_frames(plan, delivery, frames=[4, 5], making=replace(MAKING, window=window))
    proof = proof_of(delivery)
    assert blocks(proof) == [("frame-cropped", (4, 5))]
    assert proof.faults[0].message == (
        f"frames 4-5 lack {words}, the frame is (0, 0) to (239, 179); render the whole frame"
    )
    assert set(proof.rendered_frames) == set(range(1, 13)) - {4, 5}


@pytest.mark.parametrize("window", [(-16, -9, -8, -4), (-1, 0, 0, 0), (0, 0, 0, -300)])
def test_overscan_is_judged_as_ever(
    window: tuple[int, int, int, int], plan: Plan, tmp_path: Path, proof_of: Callable[..., Proof]
) -> None:
    write_frames(plan, tmp_path, frames=[1, 6, 12], making=replace(MAKING, window=window))
    proof = proof_of(tmp_path, frames=(1, 6, 12))
    assert (proof.verdict, proof.faults) == (PASS, ())


@pytest.mark.parametrize("origin", [(100, 50), (-7, 1000), (2**20, -(2**20))])
def test_a_display_window_may_begin_anywhere(
    origin: tuple[int, int], plan: Plan, tmp_path: Path, proof_of: Callable[..., Proof]
) -> None:
    def moved(box: tuple[np.ndarray, np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
        first, last = (np.array(corner + np.array(origin), dtype=np.int32) for corner in box)
        return first, last

    for path in write_frames(plan, tmp_path, frames=[1, 6], making=replace(MAKING, window=(-16, -9, -8, -4))):
        said, _ = contents(path)
        windows = {name: moved(said[name]) for name in ("dataWindow", "displayWindow")}
        respell(path, lambda name: name, **windows)
    proof = proof_of(tmp_path, frames=(1, 6))
    assert (proof.verdict, proof.faults) == (PASS, ())
    for path in write_frames(plan, tmp_path, frames=[6], making=replace(MAKING, window=(2, 0, 0, 0))):
        said, _ = contents(path)
        windows = {name: moved(said[name]) for name in ("dataWindow", "displayWindow")}
        respell(path, lambda name: name, **windows)
    proof = proof_of(tmp_path, frames=(1, 6))
    assert blocks(proof) == [("frame-cropped", (6, 6))]
    assert "2 px at the left: the data window is (2, 0) to (239, 179)" in proof.faults[0].message


def in_windows(path: Path, windows: dict[str, tuple[int, int, int, int]]) -> None:
    """Write a frame in parts, a pass or layer each, those named in ``windows`` with (left, top, right, bottom) off."""
    said, channels = contents(path)
    parts = []
    for stem in dict.fromkeys(name.rpartition(".")[0] for name in channels):
        left, top, right, bottom = windows.get(stem, (0, 0, 0, 0))
        box = tuple(np.array(corner, dtype=np.int32) for corner in ((left, top), (239 - right, 179 - bottom)))
        mine = {
            name: np.ascontiguousarray(pixels[top : 180 - bottom, left : 240 - right])
            for name, pixels in channels.items()
            if name.startswith(f"{stem}.")
        }
        parts.append(OpenEXR.Part(said | {"dataWindow": box}, mine, stem))
    OpenEXR.File(parts).write(str(path))


def test_of_parts_with_windows_of_their_own_each_counts(delivery: Path, proof_of: Callable[..., Proof]) -> None:
    in_windows(delivery / "beauty.0004.exr", {"ViewLayer.proof1": (10, 0, 0, 0)})
    in_windows(delivery / "beauty.0005.exr", {})
    in_windows(delivery / "beauty.0009.exr", {"ViewLayer.Combined": (0, 1, 0, 0), "ViewLayer.proof2": (0, 4, 0, 0)})
    proof = proof_of(delivery)
    assert blocks(proof) == [("frame-cropped", (4, 4)), ("frame-cropped", (9, 9))]
    assert [fault.message for fault in proof.faults] == [
        "frame 4 lacks 10 px at the left: the data window of ViewLayer.proof1.A and 3 more is"
        " (10, 0) to (239, 179), the frame is (0, 0) to (239, 179); render the whole frame",
        "frame 9 lacks 4 px at the top: the data window of ViewLayer.proof2.A and 3 more is"
        " (0, 4) to (239, 179), the frame is (0, 0) to (239, 179); render the whole frame",
    ]
    assert set(proof.rendered_frames) == set(range(1, 13)) - {4, 9}


def test_a_part_that_nothing_is_judged_by_may_be_cropped(delivery: Path, proof_of: Callable[..., Proof]) -> None:
    for path in sorted(delivery.iterdir())[:2]:
        said, channels = contents(path)
        stray = np.zeros((10, 10), dtype=np.float32)
        box = tuple(np.array(corner, dtype=np.int32) for corner in ((5, 5), (14, 14)))
        parts = [
            OpenEXR.Part(dict(said), channels, "ViewLayer"),
            OpenEXR.Part(said | {"dataWindow": box}, {"Z": stray}, "depth"),
        ]
        OpenEXR.File(parts).write(str(path))
    proof = proof_of(delivery, frames=(1, 2))
    assert (proof.verdict, proof.faults) == (PASS, ())


@pytest.mark.parametrize("left", [-300, -240, -10, 0, 10, 240, 300])
@pytest.mark.parametrize("width", [1, 100, 240, 600])
def test_what_is_missing_at_left_and_right_is_what_no_column_holds(left: int, width: int) -> None:
    held = np.zeros(240, dtype=bool)
    held[max(left, 0) : max(left + width, 0)] = True
    crop = crop_of((240, 180), left=left, top=-5, held=(width, 400))
    if held.all():
        assert crop is None
        return
    assert crop is not None
    gaps = crop.missing[0], crop.missing[2]
    if held.any():
        assert gaps == (int(held.argmax()), int(held[::-1].argmax()))
    else:
        # Nothing of it is there: all is missing at the side where the window is not.
        assert max(gaps) == 240
    assert crop.missing[1::2] == (0, 0)


@pytest.mark.parametrize("window", [(300, 0, -400, 0), (0, 200, 0, -300), (-400, 0, 300, 0), (238, 0, 0, 0)])
def test_a_window_that_hardly_meets_the_frame_or_not_at_all_is_that_fault(
    window: tuple[int, int, int, int], plan: Plan, delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    write_frames(plan, delivery, frames=[1, 12], making=replace(MAKING, window=window))
    proof = proof_of(delivery, pictures=True)
    assert blocks(proof) == [("frame-cropped", (1, 1)), ("frame-cropped", (12, 12))]
    assert set(proof.rendered_frames) == set(range(2, 12))
