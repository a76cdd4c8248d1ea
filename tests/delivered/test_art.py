# SPDX-License-Identifier: GPL-3.0-or-later
"""What a level shows, read from its file: the same light whatever the file is."""

from pathlib import Path

import numpy as np
import OpenEXR
import pytest
from PIL import Image

from underglass.shot import UnderglassError
from underglass_headless.delivered.art.art_shown import read_art

# Printed in the test suite of the colour-science package for the transfer function of sRGB: light, and its value.
MIDDLE_GREY = (0.18, 0.461356129500442)


def write_exr(path: Path, **channels: np.ndarray) -> Path:
    with OpenEXR.File({"type": OpenEXR.scanlineimage}, dict(channels)) as file:
        file.write(str(path))
    return path


def test_codes_are_read_as_light_with_alpha_multiplied_in(tmp_path: Path) -> None:
    Image.new("RGBA", (3, 2), (118, 118, 0, 51)).save(tmp_path / "grey.png")
    art = read_art(tmp_path / "grey.png")
    assert art.shape == (2, 3, 4)
    # 118 is the code next to middle grey; a fifth of it arrives
    assert art[0, 0, 0] == pytest.approx(MIDDLE_GREY[0] / 5, rel=0.01)
    assert art[0, 0].tolist() == pytest.approx([art[0, 0, 0], art[0, 0, 0], 0.0, 0.2])


def test_light_is_read_as_it_is_and_what_has_no_alpha_is_opaque(tmp_path: Path) -> None:
    red = np.full((2, 3), 0.18, dtype=np.float32)
    art = read_art(write_exr(tmp_path / "red.exr", R=red, G=red * 0, B=red * 0))
    assert art[1, 2].tolist() == pytest.approx([0.18, 0.0, 0.0, 1.0])


@pytest.mark.parametrize("name", ["none.exr", "none.png", "broken.exr", "broken.png"])
def test_what_cannot_be_read_is_told_in_a_line_once(name: str, tmp_path: Path) -> None:
    path = tmp_path / name
    if name.startswith("broken"):
        path.write_bytes(b"v/1\x01 or so" * 9)
    with pytest.raises(UnderglassError) as raised:
        read_art(path)
    line = str(raised.value)
    assert "\n" not in line
    assert line.count(str(path)) <= 2
    assert line.count("cannot be read") == 1
    assert line.endswith("; save the art again")
