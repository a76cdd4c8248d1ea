# SPDX-License-Identifier: GPL-3.0-or-later
"""Passes that were blurred, or made smaller and larger again: one fault of the file, and no level is blamed."""

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy import ndimage

from delivered.conftest import MAKING, judged
from delivered.made_frames import rewrite, write_frames
from delivered.test_file_faults import blocks
from underglass.plan import Plan
from underglass_headless.delivered.files.channel_names import spelling_of
from underglass_headless.delivered.files.file_contents import passes_in
from underglass_headless.delivered.files.pass_fits import LevelPass
from underglass_headless.delivered.whole.filtered_passes import filtered
from underglass_headless.exr.read_exr import read_exr

FILTERS = {
    "box blur": lambda pixels: ndimage.uniform_filter(pixels, 3, mode="nearest"),
    "box blur, nothing beyond": lambda pixels: ndimage.uniform_filter(pixels, 3, mode="constant"),
    "gauss": lambda pixels: ndimage.gaussian_filter(pixels, 1.5),
    "halved and scaled back": lambda pixels: ndimage.zoom(
        pixels.reshape(pixels.shape[0] // 2, 2, -1, 2).mean(axis=(1, 3)), 2, order=1, mode="nearest", grid_mode=True
    ),
}


@pytest.fixture(scope="module")
def sampled(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("sampled")
    write_frames(plan, folder, frames=(5, 6), making=replace(MAKING, samples=8))
    return folder


@pytest.mark.parametrize("name", FILTERS)
def test_passes_that_were_filtered_are_told_as_that_and_no_level_is_blamed(
    name: str, sampled: Path, shot: Path, tmp_path: Path
) -> None:
    shutil.copytree(sampled, tmp_path / "frames")

    def change(channels: dict[str, np.ndarray]) -> None:
        for at, pixels in channels.items():
            channels[at] = np.ascontiguousarray(FILTERS[name](pixels.astype(np.float64)).astype(pixels.dtype))

    for path in (tmp_path / "frames").iterdir():
        rewrite(path, change)
    assert {code for code, _ in blocks(judged(shot, tmp_path / "frames", frames=(5, 6)))} <= {"passes-filtered"}
    assert [found.code for found in map(filtered, passes_of_files(tmp_path / "frames")) if found] == 2 * [
        "passes-filtered"
    ]


def test_samples_of_a_render_are_no_filters_work(sampled: Path) -> None:
    assert [filtered(passes) for passes in passes_of_files(sampled)] == [None, None]


def passes_of_files(folder: Path) -> list[dict[int, LevelPass]]:
    files = [read_exr(path) for path in sorted(folder.iterdir())]
    return [passes_in(exr, spelling_of(exr.channels)) for exr in files]
