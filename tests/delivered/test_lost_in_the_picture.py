# SPDX-License-Identifier: GPL-3.0-or-later
"""Without passes: a level far from its place, or missing, on some frames only does not pass for those that tell it."""

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import OpenEXR
import pytest
from PIL import Image, ImageDraw, ImageFilter

import small_shots
from delivered.conftest import MAKING, judged
from delivered.made_frames import metadata
from small_shots import Glass
from underglass.optics.projection import art_from_px
from underglass.plan import Plan, corners_px, make_plan
from underglass.proof.choose_frames import choose_frames
from underglass.proof.proof_facts import FAIL, PASS
from underglass.shot.files import read_shot
from underglass_headless.delivered.art.painted_levels import Painted

SCHEDULE = """\
part,axis,first,last,from,to,law,slow_out,slow_in
sky,east,1,{last},0,-40,steady,,
bird,east,1,{last},-30,20,steady,,
"""
SIZE = (320, 240)
FINER = 3


@pytest.fixture(scope="module")
def shot(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a bird before a sky, of art with something to hold on to."""
    return bird_and_sky(tmp_path_factory.mktemp("bird"), last=4)


def bird_and_sky(folder: Path, *, last: int) -> Path:
    """Write a shot of frames 1 to ``last`` and its art into ``folder``, and return its file."""
    (folder / "art").mkdir()
    rng = np.random.default_rng(3)
    for name, size in (("bird", (96, 72)), ("sky", (560, 420))):
        coarse = rng.uniform(40, 230, (size[1] // 8 + 1, size[0] // 8 + 1, 3)).astype(np.uint8)
        image = Image.fromarray(coarse).resize(size, Image.Resampling.BICUBIC).convert("RGBA")
        if name == "bird":
            shape = Image.new("L", size, 0)
            ImageDraw.Draw(shape).ellipse((6, 6, size[0] - 6, size[1] - 6), fill=255)
            image.putalpha(shape.filter(ImageFilter.GaussianBlur(1)))
        image.save(folder / "art" / f"{name}.png")
    glasses = [
        Glass("bird", 700.0, width=40.0, east=-30, north=5, art="art/bird.png"),
        Glass("sky", 100.0, width=560.0, art="art/sky.png"),
    ]
    return small_shots.stack(folder, glasses, frame_px=SIZE, frames=(1, last), schedule=SCHEDULE.format(last=last))


def write_picture(plan: Plan, path: Path, *, frame: int, right_px: float, shown: Sequence[int]) -> None:
    """Write a frame's picture of the levels ``shown``, the bird further right than planned."""
    arts, corners = Painted(plan).arts(frame, mattes=False), corners_px(plan)[frame - 1].copy()
    corners[0, :, 0] += right_px
    x = (np.arange(SIZE[0] * FINER) + 0.5) / FINER - SIZE[0] / 2
    y = SIZE[1] / 2 - (np.arange(SIZE[1] * FINER) + 0.5) / FINER
    places = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    light, alpha = np.zeros((len(places), 3)), np.zeros(len(places))
    for number in shown:
        art, place = arts[number], corners[number]
        assert art is not None
        more, opaque = art(*art_from_px(places, corners=place).T)
        light += (1 - alpha)[:, None] * more
        alpha += (1 - alpha) * opaque
    pixels = light.reshape(SIZE[1], FINER, SIZE[0], FINER, 3).mean(axis=(1, 3)).astype(np.float32)
    channels = {letter: np.ascontiguousarray(pixels[..., at]) for at, letter in enumerate("RGB")}
    header = {"type": OpenEXR.scanlineimage, "compression": OpenEXR.ZIP_COMPRESSION, **metadata(plan, frame, MAKING)}
    OpenEXR.File(header, channels).write(str(path))


@pytest.mark.parametrize(
    ("right_px", "shown", "verdict"),
    [
        (lambda frame: 0.0, lambda frame: (0, 1), PASS),
        (lambda frame: 5.0, lambda frame: (0, 1), FAIL),
        (lambda frame: 20.0, lambda frame: (0, 1), FAIL),
        (lambda frame: 40.0 if frame > 1 else 0.0, lambda frame: (0, 1), FAIL),
        (lambda frame: 80.0 if frame > 1 else 0.0, lambda frame: (0, 1), FAIL),
        (lambda frame: 0.0, lambda frame: (0, 1) if frame == 1 else (1,), FAIL),
        (lambda frame: 0.0, lambda frame: (1,), FAIL),
    ],
    ids=["in place", "5 px", "20 px", "40 px, but for a frame", "80 px, but for a frame", "once only", "never"],
)
def test_a_bird_passes_only_where_every_frame_tells_its_place(
    right_px: Callable[[int], float], shown: Callable[[int], Sequence[int]], verdict: str, shot: Path, tmp_path: Path
) -> None:
    plan = make_plan(read_shot(shot))
    for frame in range(1, 5):
        path = tmp_path / f"beauty.{frame:04d}.exr"
        write_picture(plan, path, frame=frame, right_px=right_px(frame), shown=shown(frame))
    proof = judged(shot, tmp_path, tolerance_px=2.0)
    assert proof.verdict == verdict
    assert {fault.subject for fault in proof.faults} <= {"bird"}
    # what was not found has no place that could be told wrongly
    seen = [m for m in proof.measurements if m.level == "bird" and m.error_px is not None]
    assert all(abs(m.error_px - abs(right_px(m.frame))) <= m.uncertainty_px for m in seen)


def test_of_frames_that_are_asked_for_none_is_passed_over(tmp_path: Path) -> None:
    (tmp_path / "long").mkdir()
    shot = bird_and_sky(tmp_path / "long", last=24)
    plan = make_plan(read_shot(shot))
    chosen = choose_frames(plan)
    other = next(frame for frame in plan.frames.tolist() if frame not in chosen)
    asked = (1, other, 24)
    assert {1, 24} <= set(chosen)
    for frame in asked:
        path = tmp_path / "frames" / f"beauty.{frame:04d}.exr"
        path.parent.mkdir(exist_ok=True)
        write_picture(plan, path, frame=frame, right_px=5.0 if frame == other else 0.0, shown=(0, 1))
    proof = judged(shot, tmp_path / "frames", tolerance_px=2.0, frames=asked)
    assert proof.verdict == FAIL
    assert proof.rendered_frames == asked
    assert {fault.subject for fault in proof.faults} == {"bird"}
    assert proof.source is not None
    assert f"on 3 frames (1{'-' if other == 2 else ','}{other},24)" in proof.source.shows
