# SPDX-License-Identifier: GPL-3.0-or-later
"""What one file tells without any plan: whether its values are sound, and whether its picture is that of another."""

from pathlib import Path

import numpy as np
import OpenEXR
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from underglass_headless.delivered.asked_of_file import Asked
from underglass_headless.delivered.files.channel_values import has_bad_values
from underglass_headless.delivered.read_frame import look_at

FRAME_PX = (64, 48)


@pytest.mark.parametrize(("number", "bits"), [(np.float16, np.uint16), (np.float32, np.uint32)])
@given(data=st.data())
def test_values_are_bad_where_numpy_finds_them_not_finite(number: type, bits: type, data: st.DataObject) -> None:
    shape = data.draw(st.sampled_from([(1, 1), (3, 5), (4, 4)]))
    # any bits at all: both signs, values too small to be normal, the greatest there are, every NaN
    drawn = data.draw(arrays.arrays(bits, shape, elements=arrays.from_dtype(np.dtype(bits))))
    pixels = drawn.view(number)
    assert has_bad_values(pixels) == (not np.isfinite(pixels).all())


@pytest.mark.parametrize("number", [np.float16, np.float32])
@pytest.mark.parametrize("value", [np.nan, np.copysign(np.nan, -1), np.inf, -np.inf])
def test_one_bad_value_among_great_ones_is_found(number: type, value: float) -> None:
    pixels = np.full((20, 30), np.finfo(number).max, dtype=number)
    assert not has_bad_values(pixels)
    pixels[7, 11] = value
    assert has_bad_values(pixels)
    assert not has_bad_values(np.full((20, 30), np.iinfo(np.uint32).max, dtype=np.uint32))


def digest(path: Path, picture: np.ndarray) -> str:
    channels = {name: np.ascontiguousarray(picture[..., at]) for at, name in enumerate("RGB")}
    with OpenEXR.File({"type": OpenEXR.scanlineimage}, channels) as file:
        file.write(str(path))
    said = look_at(path, Asked(frame=1, frame_px=FRAME_PX, margins_px={})).file.digest
    assert said
    return said


@pytest.mark.parametrize("number", [np.float16, np.float32])
@pytest.mark.parametrize(("ground", "speck", "size"), [(0.18, 0.5, 2), (0.0, 2.0, 4), (0.0, 0.5, 16)])
@pytest.mark.parametrize(("down", "right"), [(0, 1), (1, 0), (1, -1)])
def test_a_speck_that_moves_by_a_pixel_makes_another_picture(
    number: type, ground: float, speck: float, size: int, down: int, right: int, tmp_path: Path
) -> None:
    first = np.full((FRAME_PX[1], FRAME_PX[0], 3), ground, dtype=number)
    second = first.copy()
    first[15 : 15 + size, 30 : 30 + size] = speck
    second[15 + down : 15 + size + down, 30 + right : 30 + size + right] = speck
    assert digest(tmp_path / "first.exr", first) != digest(tmp_path / "second.exr", second)
    assert digest(tmp_path / "first.exr", first) == digest(tmp_path / "again.exr", first)


def test_two_specks_that_change_rows_make_another_picture(tmp_path: Path) -> None:
    first = np.zeros((FRAME_PX[1], FRAME_PX[0], 3), dtype=np.float32)
    first[10, 20] = first[30, 40] = 1.0
    assert digest(tmp_path / "first.exr", first) != digest(tmp_path / "second.exr", first[:, ::-1][:, np.r_[3:64, :3]])
