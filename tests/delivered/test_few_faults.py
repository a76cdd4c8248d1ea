# SPDX-License-Identifier: GPL-3.0-or-later
"""What has one cause is one fault, and a list of hundreds is read by nobody."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import small_shots
from delivered.conftest import MAKING, judged
from delivered.made_frames import Making, rewrite, write_frames
from small_shots import Glass
from underglass.plan import Plan, make_plan
from underglass.proof.proof_facts import BLOCK, PASS, Proof
from underglass.shot.files import read_shot
from underglass_headless.delivered.files.frame_lists import MOST_STRETCHES
from underglass_headless.delivered.judging.colour_change import change_of
from underglass_headless.delivered.judging.level_gaps import CUT_OFF, STRANGE, Gap, gap_faults

BOX = (0, 0, 10, 10)


def test_gaps_on_every_other_frame_of_a_long_shot_are_one_fault() -> None:
    gaps = [(frame, Gap(CUT_OFF, 0, 0.1, BOX)) for frame in range(1, 401, 2)]
    ((fault, frames),) = gap_faults(["reeds"], gaps)
    assert (fault.frames, len(frames)) == ((1, 399), 200)
    few = [(frame, Gap(CUT_OFF, 0, 0.1, BOX)) for frame in range(1, 2 * MOST_STRETCHES, 2)]
    assert len(gap_faults(["reeds"], few)) == MOST_STRETCHES


def test_strange_values_in_many_levels_are_one_fault_that_names_them() -> None:
    gaps = [(4, Gap(STRANGE, level, 0.1 * (level + 1), BOX)) for level in range(3)]
    ((fault, _),) = gap_faults(["reeds", "boat", "hills"], gaps)
    assert "reeds, boat and hills have values in their proof passes" in fault.message
    assert fault.subject == "hills"


def test_a_drawing_that_lies_there_in_two_files_is_no_change(tmp_path: Path) -> None:
    rng = np.random.default_rng(4)
    pixels = rng.integers(60, 230, (60, 80, 4), dtype=np.uint8)
    pixels[..., 3] = 255
    (tmp_path / "art").mkdir()
    for name in ("one", "two"):
        Image.fromarray(pixels).save(tmp_path / f"art/bird_{name}.png")
    drawings = "frame,bird\n1,one\n3,two\n"
    glasses = [Glass("bird", 900.0, width=60.0, art="art/bird_{drawing}.png"), Glass("sky", 100.0, width=560.0)]
    shot = small_shots.stack(tmp_path, glasses, frame_px=(160, 120), frames=(1, 4), drawings=drawings)
    write_frames(make_plan(read_shot(shot)), tmp_path / "frames", making=Making(compression="ZIPS"))
    proof = judged(shot, tmp_path / "frames")
    assert [fault.message for fault in proof.faults if fault.code == "frames-identical"] == []
    pixels[..., :3] = 255 - pixels[..., :3]
    Image.fromarray(pixels).save(tmp_path / "art/bird_two.png")
    changed = judged(shot, tmp_path / "frames")
    assert [fault.frames for fault in changed.faults if fault.code == "frames-identical"] == [(1, 4)]


@pytest.mark.parametrize("making", [MAKING, Making(compression="ZIPS", eevee=True)])
def test_passes_that_lost_all_places_are_told_by_what_was_done(
    making: Making, plan: Plan, shot: Path, tmp_path: Path
) -> None:
    changes: dict[str, Callable[[np.ndarray], np.ndarray]] = {
        "rounded": lambda p: np.round(p * 4) / 4,
        "cut off": lambda p: np.minimum(p, 0.2),
        "inverted": lambda p: 1 - p,
    }
    for word, change in changes.items():
        folder = tmp_path / word

        def altered(channels: dict[str, np.ndarray], change: Callable[[np.ndarray], np.ndarray] = change) -> None:
            for name, values in channels.items():
                # a change of colours leaves EEVEE's marks, which have one channel
                if "proof" in name and name.rpartition(".")[2] in "RGB":
                    channels[name] = change(values).astype(values.dtype)

        for path in write_frames(plan, folder, frames=[5, 6], making=making):
            rewrite(path, altered)
        proof = judged(shot, folder, frames=(5, 6))
        blocks = [fault for fault in proof.faults if fault.severity == BLOCK]
        assert [fault.code for fault in blocks] == ["passes-recoloured"], (word, [fault.message for fault in blocks])
        assert word in blocks[0].message


def test_a_squeezed_frame_of_levels_that_share_their_middle_is_not_called_graded(tmp_path: Path) -> None:
    from scipy import ndimage

    glasses = [Glass("card", 500.0, width=560.0 * 0.5), Glass("sky", 0.0, width=560.0)]
    shot = small_shots.stack(tmp_path, glasses, frame_px=(160, 120), frames=(1, 2))

    def squeeze(channels: dict[str, np.ndarray]) -> None:
        for name, pixels in channels.items():
            middle = (np.array(pixels.shape) - 1) / 2
            back = np.diag([1.0, 1 / 0.83])
            moved = ndimage.affine_transform(pixels.astype(float), back, offset=middle - back @ middle, order=1)
            channels[name] = moved.astype(pixels.dtype)

    for path in write_frames(make_plan(read_shot(shot)), tmp_path / "frames", making=MAKING):
        rewrite(path, squeeze)
    blocks = [fault for fault in judged(shot, tmp_path / "frames").faults if fault.severity == BLOCK]
    assert [fault.code for fault in blocks] == ["frame-scaled"], [fault.message for fault in blocks]


def test_frames_without_a_picture_say_so(plan: Plan, tmp_path: Path, proof_of: Callable[..., Proof]) -> None:
    paths = write_frames(plan, tmp_path / "frames", making=MAKING)

    def no_picture(channels: dict[str, np.ndarray]) -> None:
        for name in [name for name in channels if "proof" not in name]:
            del channels[name]

    def no_green(channels: dict[str, np.ndarray]) -> None:
        for name in [name for name in channels if "proof" not in name and name.endswith("G")]:
            del channels[name]

    rewrite(paths[3], no_green)
    proof = proof_of(tmp_path / "frames")
    assert [f.message for f in proof.faults if f.severity == BLOCK] == [
        "frame 4 holds a picture without green; nothing is proved of what the picture shows"
    ]
    for path in paths:
        rewrite(path, no_picture)
    proof = proof_of(tmp_path / "frames")
    assert proof.verdict == PASS
    assert [f.frames for f in proof.faults if f.code == "not-proved"] == [(1, 12)]


def test_places_on_the_same_pixel_of_rough_art_tell_no_more_than_one() -> None:
    rng = np.random.default_rng(8)
    art = np.full((80, 3), 0.4)
    # eight pixels of the art, on each of which ten places lie, differ from what they are on average
    seen = art + np.repeat(rng.normal(0.0, 0.17, (8, 3)) + 0.07, 10, axis=0)
    assert change_of(art, seen, behind=art, rough=True, apart=0.1) is None
    assert change_of(art, seen + 0.5, behind=art, rough=True) is not None
