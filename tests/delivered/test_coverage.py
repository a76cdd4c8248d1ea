# SPDX-License-Identifier: GPL-3.0-or-later
"""What a delivered frame lacks, or shows too much of: holes, borders, things in the way, art that was not there."""

import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import small_shots
from delivered.conftest import MAKING, judged
from delivered.made_frames import Making, rewrite, write_frames
from small_shots import Glass
from underglass.plan import Plan, make_plan
from underglass.proof.proof_facts import BLOCK, FAIL, Proof
from underglass.shot.files import read_shot

Channels = dict[str, np.ndarray]
Change = Callable[[Channels], None]
FRAME = 6
SKY = "ViewLayer.proof3."


@dataclass(frozen=True)
class Wrong:
    """What is done to a frame's channels, and the stop that it makes: its code, its subject and words of it."""

    do: Change
    code: str
    subject: str
    words: str = ""
    making: Making = MAKING


def nothing_in(*part: slice) -> Change:
    def change(channels: Channels) -> None:
        for values in channels.values():
            values[part] = 0

    return change


def border(channels: Channels) -> None:
    for values in channels.values():
        whole = values.copy()
        values[:] = 0
        values[20:-20, 20:-20] = whole[20:-20, 20:-20]


def foreign(*part: slice) -> Change:
    """Cover a part with a thing that has no proof pass."""

    def change(channels: Channels) -> None:
        for name, values in channels.items():
            values[part] = 0.0 if "proof" in name else 0.7

    return change


def hole_in_the_sky(channels: Channels) -> None:
    for letter in "RGB":
        channels[f"{SKY}{letter}"][20:30, 10:40] = 0


def lost_coordinates(channels: Channels) -> None:
    channels[f"{SKY}R"][100, 5:60] = 0


def black_picture(channels: Channels) -> None:
    for letter in "RGB":
        channels[f"ViewLayer.Combined.{letter}"][90:110, 20:70] = 0


EEVEE = replace(MAKING, eevee=True, samples=2)
WRONG = {
    "tile": Wrong(nothing_in(slice(32, 64), slice(64, 96)), "frame-hole", "frames", "within 32 × 32 px"),
    "small tile": Wrong(nothing_in(slice(32, 40), slice(64, 72)), "frame-hole", "frames", "within 8 × 8 px"),
    "last row": Wrong(nothing_in(slice(-1, None)), "frame-hole", "frames", "240 × 1 px"),
    "first row": Wrong(nothing_in(slice(0, 1)), "frame-hole", "frames"),
    "last column": Wrong(nothing_in(slice(None), slice(-1, None)), "frame-hole", "frames", "1 × 180 px"),
    "border": Wrong(border, "frame-hole", "frames"),
    "a thing": Wrong(foreign(slice(60, 110), slice(90, 140)), "in-the-way", "frames"),
    "hole": Wrong(hole_in_the_sky, "cut-off", "sky"),
    "lost coordinates": Wrong(lost_coordinates, "strange-pixels", "sky"),
    "black picture": Wrong(black_picture, "frame-hole", "frames", "a part of the picture is black"),
    "tile, EEVEE": Wrong(nothing_in(slice(32, 64), slice(64, 96)), "frame-hole", "frames", making=EEVEE),
    "border, EEVEE": Wrong(border, "frame-hole", "frames", making=EEVEE),
    "a thing, EEVEE": Wrong(foreign(slice(60, 110), slice(90, 140)), "in-the-way", "frames", making=EEVEE),
}


def blocks(proof: Proof) -> list[tuple[str, str]]:
    return [(fault.code, fault.subject) for fault in proof.faults if fault.severity == BLOCK]


@pytest.mark.parametrize("name", WRONG)
def test_what_a_frame_lacks_is_named_once_and_where_it_is(
    name: str, plan: Plan, tmp_path: Path, proof_of: Callable[..., Proof]
) -> None:
    wrong = WRONG[name]
    frames = (FRAME - 1, FRAME, FRAME + 1)
    paths = write_frames(plan, tmp_path / "frames", frames=frames, making=wrong.making)
    assert not proof_of(tmp_path / "frames", frames=frames, tolerance_px=1.0).faults
    rewrite(paths[1], wrong.do)
    proof = proof_of(tmp_path / "frames", frames=frames, tolerance_px=1.0)
    assert proof.verdict == FAIL
    assert blocks(proof) == [(wrong.code, wrong.subject)]
    assert proof.faults[0].frames == (FRAME, FRAME)
    assert wrong.words in proof.faults[0].message


def half_clear(folder: Path) -> tuple[Path, Plan]:
    """Lay out a shot whose nearest level has art that is clear in its right half."""
    art = np.full((60, 80, 4), 200, dtype=np.uint8)
    art[:, 40:, 3] = 0
    (folder / "art").mkdir(parents=True)
    Image.fromarray(art).save(folder / "art/near.png")
    glasses = [Glass("near", 1000.0, width=60.0, art="art/near.png"), Glass("sky", 100.0, width=560.0)]
    shot = small_shots.stack(folder, glasses, frame_px=(240, 180), frames=(1, 3))
    return shot, make_plan(read_shot(shot))


@pytest.mark.parametrize("making", [MAKING, EEVEE], ids=["Cycles", "EEVEE"])
def test_a_level_that_hides_what_its_art_leaves_clear_is_named(making: Making, tmp_path: Path) -> None:
    shot, plan = half_clear(tmp_path)
    # Blender shows art that is not there opaque, all over the level.
    write_frames(plan, tmp_path / "frames", making=making)
    proof = judged(shot, tmp_path / "frames", tolerance_px=1.0)
    assert blocks(proof) == [("shows-too-much", "near")]


def test_a_lost_row_or_tile_of_a_large_frame_is_met(tmp_path: Path) -> None:
    shot = small_shots.stack(tmp_path, [Glass("sky", 100.0, width=560.0)], frame_px=(1200, 900), frames=(1, 2))
    paths = write_frames(make_plan(read_shot(shot)), tmp_path / "frames", making=MAKING)
    whole = tmp_path / "whole"
    shutil.copytree(tmp_path / "frames", whole)
    for number in (1, 450, 777, 899):
        rewrite(paths[0], nothing_in(slice(number, number + 1)))
        assert blocks(judged(shot, tmp_path / "frames")) == [("frame-hole", "frames")]
        shutil.copy(whole / paths[0].name, paths[0])
    for row, column in ((1, 1), (400, 777), (868, 1168)):
        rewrite(paths[0], nothing_in(slice(row, row + 32), slice(column, column + 32)))
        assert blocks(judged(shot, tmp_path / "frames")) == [("frame-hole", "frames")]
        shutil.copy(whole / paths[0].name, paths[0])
    assert not judged(shot, tmp_path / "frames").faults


def test_a_level_that_lets_show_what_its_art_hides_is_named(tmp_path: Path) -> None:
    # As Blender up to 5.0 draws art that is not there: so thinly that what is behind it shows.
    glasses = [Glass("near", 1000.0, width=60.0), Glass("sky", 100.0, width=560.0)]
    shot = small_shots.stack(tmp_path, glasses, frame_px=(240, 180), frames=(1, 3))
    plan = make_plan(read_shot(shot))

    def through(channels: Channels) -> None:
        sky = {letter: channels[f"ViewLayer.proof1.{letter}"] for letter in "RGB"}
        rows, columns = np.mgrid[0 : sky["R"].shape[0], 0 : sky["R"].shape[1]]
        beside = sky["B"] > 0
        for letter, along in (("R", columns), ("G", rows)):
            basis = np.column_stack([np.ones(beside.sum()), columns[beside], rows[beside]])
            plane = np.linalg.lstsq(basis, sky[letter][beside], rcond=None)[0]
            sky[letter][:] = plane[0] + plane[1] * columns + plane[2] * rows
            assert np.ptp(along) > 0
        sky["B"][:] = 1.0

    for path in write_frames(plan, tmp_path / "frames", making=MAKING):
        rewrite(path, through)
    assert blocks(judged(shot, tmp_path / "frames")) == [("see-through", "near")]


def test_blur_that_reaches_everywhere_leaves_nothing_certain(tmp_path: Path) -> None:
    camera = small_shots.PERSPECTIVE.replace("focus = 300.0", "focus = 1200.0\nf_stop = 1.4")
    glasses = [Glass("near", 1000.0, width=60.0), Glass("sky", 100.0, width=560.0)]
    shot = small_shots.stack(tmp_path, glasses, camera=camera, frame_px=(960, 720), frames=(1, 1))
    write_frames(make_plan(read_shot(shot)), tmp_path / "frames", making=Making(clear=("near",)))
    assert not judged(shot, tmp_path / "frames", tolerance_px=5.0).faults
