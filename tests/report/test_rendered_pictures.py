# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures have the colours that the light had."""

import numpy as np
import pytest
from PIL import Image

from underglass.image.picture_png import light_from_srgb, srgb_from_light
from underglass_headless.report.rendered_pictures import write_picture
from underglass_headless.results import ResultError

# Printed in the test suite of the colour-science package for the transfer function of sRGB.
MIDDLE_GREY = (0.18, 0.461356129500442)


def flat(light: float, *, alpha: float = 1.0, size: tuple[int, int] = (4, 6)) -> np.ndarray:
    rgba = np.full((*size, 4), light)
    rgba[..., 3] = alpha
    return rgba


def codes(path) -> np.ndarray:
    with Image.open(path) as picture:
        assert picture.mode == "RGB"
        return np.asarray(picture)


def test_middle_grey_has_the_published_value():
    assert srgb_from_light(np.array(MIDDLE_GREY[0])) == pytest.approx(MIDDLE_GREY[1], abs=1e-12)
    assert light_from_srgb(np.array(MIDDLE_GREY[1])) == pytest.approx(MIDDLE_GREY[0], abs=1e-12)


@pytest.mark.parametrize(
    ("light", "code"),
    [(0.0, 0), (0.18, 118), (0.5, 188), (1.0, 255), (0.001, 3), (40.0, 255), (-1.0, 0), (np.nan, 0), (np.inf, 255)],
)
def test_light_becomes_the_right_code(tmp_path, light, code):
    write_picture(flat(light), tmp_path / "a.png")
    assert (codes(tmp_path / "a.png") == code).all()


def test_the_toe_and_the_power_meet_where_the_standard_says():
    step = srgb_from_light(np.array([0.0031308 * (1 - 1e-9), 0.0031308 * (1 + 1e-9)]))
    assert abs(step[1] - step[0]) < 1e-6
    assert step[0] == pytest.approx(12.92 * 0.0031308, rel=1e-6)


def test_a_half_clear_pixel_lies_over_black():
    # Premultiplied: half of a light of 0.36 arrives as 0.18 with an alpha of a half.
    assert srgb_from_light(flat(0.18, alpha=0.5)[..., :3])[0, 0, 0] == pytest.approx(MIDDLE_GREY[1])


def test_rows_and_channels_stay_where_they_are(tmp_path):
    rgba = flat(0.0)
    rgba[0, 5, 0], rgba[3, 0, 2] = 1.0, 1.0
    write_picture(rgba.astype(np.float32), tmp_path / "a.png")
    shown = codes(tmp_path / "a.png")
    assert shown.shape == (4, 6, 3)
    assert shown[0, 5].tolist() == [255, 0, 0]
    assert shown[3, 0].tolist() == [0, 0, 255]
    assert shown.sum() == 2 * 255


def test_a_thumbnail_keeps_the_light_of_fine_detail(tmp_path):
    rgba = flat(0.0, size=(64, 128))
    rgba[:, ::2, :3] = 0.36
    write_picture(rgba, tmp_path / "a.png", max_width=32)
    shown = codes(tmp_path / "a.png")
    assert shown.shape == (16, 32, 3)
    assert np.abs(shown[:, 4:-4].astype(int) - 118).max() <= 1


def test_a_small_picture_is_not_made_larger(tmp_path):
    write_picture(flat(0.5), tmp_path / "a.png", max_width=400)
    assert codes(tmp_path / "a.png").shape == (4, 6, 3)


def test_a_picture_that_cannot_be_written_is_named(tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(ResultError, match=r"a\.png"):
        write_picture(flat(0.5), tmp_path / "file" / "a.png")
