# SPDX-License-Identifier: GPL-3.0-or-later
"""Art written by other people's programs: what we read from its header is what they say of it."""

import itertools

import numpy
import pytest

from underglass.image.art_size import ArtFile, read_art
from underglass.shot import Place

# No two of width, height and tile are alike, so that none can pass for another.
WIDTH, HEIGHT = 37, 21


@pytest.mark.parametrize(
    ("mode", "suffix"), [*itertools.product(["RGBA", "RGB", "LA", "L", "P", "I;16"], [".png", ".tif"])]
)
def test_pillow_files_have_the_size_and_alpha_that_pillow_says(tmp_path, mode, suffix, oracle):
    image = oracle("PIL.Image")
    path = tmp_path / f"art{suffix}"
    image.new(mode, (WIDTH, HEIGHT)).save(path)
    has_alpha = "A" in image.open(path).getbands()
    assert read_art(path, said=Place(path)) == ArtFile(WIDTH, HEIGHT, has_alpha)


def test_a_transparent_palette_of_pillow_counts_as_alpha(tmp_path, oracle):
    image = oracle("PIL.Image")
    path = tmp_path / "palette.png"
    image.new("P", (WIDTH, HEIGHT)).save(path, transparency=0)
    assert read_art(path, said=Place(path)).has_alpha


EXR = ["none", "rle", "zips", "zip", "piz", "pxr24", "b44", "b44a", "dwaa", "dwab"]
CASES = [
    *(("art.exr", {"compression": name}) for name in EXR),
    ("art.exr", {"tile": 16}),
    ("art.tif", {"tile": 16}),
    ("art.tif", {"compression": "lzw"}),
    ("art.tif", {"compression": "zip", "planarconfig": "separate"}),
    ("art.tif", {"compression": "none", "tiff:bigtiff": 1}),
    ("art.tif", {"compression": "none", "oiio:UnassociatedAlpha": 1}),
    ("art.png", {}),
]


@pytest.mark.parametrize(("case", "channels"), [*itertools.product(CASES, [3, 4])])
def test_openimageio_files_have_the_size_and_alpha_that_it_says(tmp_path, case, channels, oracle):
    oiio = oracle("OpenImageIO")
    name, options = case
    path = tmp_path / name
    spec = oiio.ImageSpec(WIDTH, HEIGHT, channels, "uint8" if name.endswith("png") else "half")
    if "tile" in options:
        spec.tile_width = spec.tile_height = options["tile"]
    for key, value in options.items():
        if key != "tile":
            spec.attribute(key, value)
    output = oiio.ImageOutput.create(str(path))
    assert output.open(str(path), spec), oiio.geterror()
    assert output.write_image(numpy.full((HEIGHT, WIDTH, channels), 0.5, dtype=numpy.float32))
    output.close()
    # Asked to leave alpha as it is, it says where it is not multiplied into the colours.
    as_it_is = oiio.ImageSpec()
    as_it_is.attribute("oiio:UnassociatedAlpha", 1)
    seen = oiio.ImageInput.open(str(path), as_it_is).spec()
    found = read_art(path, said=Place(path))
    assert (found.width, found.height, found.has_alpha) == (seen.width, seen.height, seen.alpha_channel >= 0)
    if found.has_alpha:
        assert found.premultiplied == (not seen.get_int_attribute("oiio:UnassociatedAlpha"))
