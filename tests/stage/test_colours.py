# SPDX-License-Identifier: GPL-3.0-or-later
"""The art's colours come out of the render as they went in, in pixels.

Each picture is filmed by parallel rays at one pixel of the frame for one of the art, unless a test says otherwise.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

import small_shots
from small_shots import Glass
from stage import art
from underglass_headless.exr.read_exr import read_picture

pytestmark = [pytest.mark.bpy, pytest.mark.render]

SIDE = 8
# Half an 8-bit code: what a delivered picture could show.
HALF_CODE = 0.5
# A half float holds 11 bits.
HALF_FLOAT = 2.0**-11

Film = Callable[..., NDArray[np.float32]]


@pytest.fixture
def film(tmp_path: Path, run_in_blender: Callable[..., Any]) -> Film:
    """Return a function that films ``glasses`` in a frame of ``size`` pixels, 1 mm each; RGBA, rows from the top."""

    def run(glasses: list[Glass], size: tuple[int, int], *, zoom: int = 1) -> NDArray[np.float32]:
        camera = f'projection = "orthographic"\nfield_width = {float(size[0])}\n'
        frame_px = (size[0] * zoom, size[1] * zoom)
        shot_file = small_shots.stack(tmp_path, glasses, camera=camera, frame_px=frame_px, frames=(1, 1))
        run_in_blender(Path(__file__).with_name("film.py"), shot_file, tmp_path, 1)
        return read_picture(tmp_path / "1.exr")

    return run


def glass_of(path: str, width: int, height: float = 100.0) -> Glass:
    """Return a level whose art is ``width`` pixels, and so mm, wide."""
    return Glass(Path(path).stem, height, width=float(width), art=path)


def test_every_8_bit_code_leaves_the_render_as_it_came(tmp_path: Path, film: Film) -> None:
    codes = np.arange(256, dtype=np.uint8).reshape(16, 16, 1).repeat(3, axis=2)
    codes = np.stack([codes[..., 0], codes[::-1, :, 1], codes[:, ::-1, 2]], axis=-1)
    image = art.blocks(codes, SIDE)
    Image.fromarray(image).save(tmp_path / "ramp.png")
    picture = art.block_centres(film([glass_of("ramp.png", image.shape[1])], image.shape[1::-1]), SIDE)
    assert np.abs(art.code_from_linear(picture[..., :3]) - codes).max() < HALF_CODE
    wanted = art.linear_from_srgb(codes / 255.0)
    assert np.abs(picture[..., :3] - wanted).max() < 2 * HALF_FLOAT
    assert picture[..., 3] == pytest.approx(1.0, abs=1e-4)
    at_128 = picture[8, 0, 0]
    assert at_128 == pytest.approx(art.PUBLISHED_SRGB[128 / 255], abs=2e-4)


def test_16_bit_art_decodes_to_published_values(tmp_path: Path, film: Film) -> None:
    encoded = [value for value in art.PUBLISHED_SRGB if value != 128 / 255]
    codes = np.array([[[round(value * 65535)] * 3 for value in encoded]], dtype=np.uint16)
    image = art.blocks(codes, SIDE)
    art.write_png16(tmp_path / "deep.png", image)
    picture = art.block_centres(film([glass_of("deep.png", image.shape[1])], image.shape[1::-1]), SIDE)
    wanted = [art.PUBLISHED_SRGB[value] for value in encoded]
    assert picture[0, :, 0] == pytest.approx(wanted, rel=2 * HALF_FLOAT)


@pytest.mark.parametrize("mode", ["P", "LA", "L"])
def test_art_with_a_palette_or_in_greys(mode: str, tmp_path: Path, film: Film) -> None:
    grey = art.blocks(np.array([[[30], [128], [250]]], dtype=np.uint8), SIDE)[..., 0]
    Image.fromarray(grey).convert(mode).save(tmp_path / "grey.png")
    picture = art.block_centres(film([glass_of("grey.png", grey.shape[1])], grey.shape[::-1]), SIDE)
    assert art.code_from_linear(picture[0, :, :3]) == pytest.approx(np.array([[30] * 3, [128] * 3, [250] * 3]), abs=0.5)
    assert picture[..., 3] == pytest.approx(1.0, abs=1e-4)


def test_a_half_clear_exr_lies_over_what_is_below_by_the_published_rule(tmp_path: Path, film: Film) -> None:
    # out = F + (1 − a)·B (OpenEXR Technical Introduction); the numbers are OpenImageIO's for this pair.
    over, below, wanted = (0.2, 0.1, 0.0, 0.5), (0.4, 0.4, 0.4, 1.0), (0.4, 0.3, 0.2, 1.0)
    art.write_exr(tmp_path / "over.exr", np.full((16, 16, 4), over))
    art.write_exr(tmp_path / "below.exr", np.full((16, 16, 4), below))
    picture = film([glass_of("over.exr", 16, 200.0), glass_of("below.exr", 16)], (16, 16))
    assert picture[4:-4, 4:-4].mean(axis=(0, 1)) == pytest.approx(wanted, abs=1e-3)


def test_a_half_clear_png_lies_over_what_is_below(tmp_path: Path, film: Film) -> None:
    over, below = (170, 124, 0, 128), (200, 60, 20, 255)
    Image.new("RGBA", (16, 16), over).save(tmp_path / "over.png")
    Image.new("RGBA", (16, 16), below).save(tmp_path / "below.png")
    picture = film([glass_of("over.png", 16, 200.0), glass_of("below.png", 16)], (16, 16))
    top, bottom = (art.linear_from_srgb(np.array(colour[:3]) / 255.0) for colour in (over, below))
    share = 128 / 255
    wanted = top * share + bottom * (1 - share)
    # Cycles multiplies 8-bit colour by alpha in 8 bits, so the art itself is out by up to half a code.
    seen = art.code_from_linear(picture[4:-4, 4:-4, :3].mean(axis=(0, 1)))
    assert seen == pytest.approx(art.code_from_linear(wanted), abs=HALF_CODE)


@pytest.mark.parametrize("depth", [np.uint8, np.uint16])
@pytest.mark.parametrize("associated", [True, False])
def test_a_half_clear_tiff_lies_over_what_is_below_whatever_its_alpha_is_multiplied_into(
    associated: bool, depth: type[np.unsignedinteger], tmp_path: Path, film: Film
) -> None:
    """Associated alpha is multiplied into the encoded colours, as paint programs write it."""
    colour, share, below = np.array([200.0, 120.0, 0.0]) / 255, 0.5, 128
    written = np.append(colour * share if associated else colour, share) * np.iinfo(depth).max
    art.write_tiff(tmp_path / "over.tif", np.full((16, 16, 4), written.round(), dtype=depth), associated=associated)
    Image.new("L", (16, 16), below).save(tmp_path / "below.png")
    picture = film([glass_of("over.tif", 16, 200.0), glass_of("below.png", 16)], (16, 16))
    wanted = art.linear_from_srgb(colour) * share + art.linear_from_srgb(np.array(below / 255)) * (1 - share)
    seen = art.code_from_linear(picture[4:-4, 4:-4, :3].mean(axis=(0, 1)))
    # Dividing 8 bits by an alpha of one half leaves a code of doubt, 16 bits none.
    assert seen == pytest.approx(art.code_from_linear(wanted), abs=2 * HALF_CODE if depth is np.uint8 else HALF_CODE)


@pytest.mark.parametrize("kind", ["png", "exr"])
def test_a_soft_edge_has_no_dark_fringe(kind: str, tmp_path: Path, film: Film) -> None:
    """A white disc, black where it is clear, over mid grey and three times as large as painted."""
    size = 32
    row, column = np.mgrid[:size, :size] - (size - 1) / 2
    alpha = np.clip((10 - np.hypot(row, column)) / 3, 0, 1)
    grey = 128
    if kind == "png":
        pixels = np.zeros((size, size, 4))
        pixels[alpha > 0, :3] = 255
        pixels[..., 3] = alpha * 255
        Image.fromarray(pixels.round().astype(np.uint8)).save(tmp_path / "disc.png")
    else:
        art.write_exr(tmp_path / "disc.exr", np.repeat(alpha[..., None], 4, axis=2))
    Image.new("L", (size, size), grey).save(tmp_path / "ground.png")
    picture = film([glass_of(f"disc.{kind}", size, 200.0), glass_of("ground.png", size)], (size, size), zoom=3)
    inner = picture[6:-6, 6:-6]
    assert art.code_from_linear(inner[..., :3]).min() > grey - HALF_CODE
    assert art.code_from_linear(inner[48 - 6 - 9 : 48 - 6 + 9, 48 - 6 - 9 : 48 - 6 + 9, :3]).min() > 255 - HALF_CODE
    assert inner[..., 3] == pytest.approx(1.0, abs=1e-4)


def test_where_no_art_lies_the_picture_is_clear(tmp_path: Path, film: Film) -> None:
    Image.new("RGBA", (8, 8), (255, 255, 255, 255)).save(tmp_path / "patch.png")
    picture = film([glass_of("patch.png", 8)], (32, 32))
    assert picture[:8].max() == 0.0
    assert picture[16, 16] == pytest.approx([1.0] * 4, abs=1e-4)
