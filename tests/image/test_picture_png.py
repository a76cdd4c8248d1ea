# SPDX-License-Identifier: GPL-3.0-or-later
"""A picture for a window: what is written with numpy and zlib is what a reader of PNG finds."""

from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from underglass.image.picture_png import codes_from_light, no_wider, png


@pytest.mark.parametrize(("height", "width"), [(1, 1), (1, 7), (9, 1), (37, 53)])
def test_pillow_reads_every_pixel_as_it_was_written(height: int, width: int, seed: int) -> None:
    codes = np.random.default_rng(seed).integers(0, 256, (height, width, 3), dtype=np.uint8)
    with Image.open(BytesIO(png(codes))) as image:
        assert (image.format, image.mode, image.info["srgb"]) == ("PNG", "RGB", 0)
        np.testing.assert_array_equal(np.asarray(image), codes)


def test_a_picture_that_fits_is_left_as_it_is() -> None:
    light = np.ones((6, 8, 3), dtype=np.float32)
    assert no_wider(light, width=8) is light


def test_a_wide_picture_keeps_its_light_and_its_sides() -> None:
    light = np.zeros((6, 9, 3), dtype=np.float32)
    light[0, 0] = 4.0  # one bright pixel up in the west
    smaller = no_wider(light, width=4)
    assert smaller.shape == (2, 3, 3)
    assert smaller[0, 0].tolist() == pytest.approx([4.0 / 9] * 3)
    assert smaller.sum() == pytest.approx(light.sum() / 9)


def test_a_strip_too_low_to_be_made_smaller_is_left() -> None:
    light = np.ones((1, 90, 3), dtype=np.float32)
    assert no_wider(light, width=10) is light


def test_light_beyond_white_and_below_black_is_clipped() -> None:
    assert codes_from_light(np.array([-1.0, 0.0, 1.0, 50.0])).tolist() == [0, 0, 255, 255]
