# SPDX-License-Identifier: GPL-3.0-or-later
"""Layered PSD files: what of them comes to the stand, what is said to be lost, and broken ones."""

import numpy as np
import psd_tools
import pytest
from PIL import Image, ImageCms
from psd_tools.constants import BlendMode, ColorMode, Resource, Tag

from layered.paintings import CANVAS, files_in, noise
from underglass.layered import ArtGroup, import_art
from underglass.shot import ShotError
from underglass_headless.art.pillow_pixels import PillowPixels
from underglass_headless.art.psd_layers import read_psd


@pytest.fixture
def painting():
    """Return a document with a sky, to paint in."""
    document = psd_tools.PSDImage.new("RGB", CANVAS)
    add(document, "sky", size_px=CANVAS)
    return document


def add(group, name, *, size_px=(10, 8), **place):
    return group.create_pixel_layer(Image.fromarray(noise(size_px, seed=1)[..., :3]), name=name, **place)


@pytest.fixture
def read(tmp_path):
    """Return a function that saves a document and reads it as layered art."""

    def run(document):
        document.save(tmp_path / "x.psd")
        return read_psd(tmp_path / "x.psd")

    return run


def test_the_topmost_layer_is_nearest_the_lens(painting, read):
    add(painting, "reeds", left=-3, top=41, opacity=51)
    art = read(painting)
    assert art.canvas_px == CANVAS
    assert [layer.name for layer in art.layers] == ["reeds", "sky"]
    assert (art.layers[0].left, art.layers[0].top, art.layers[0].size_px, art.layers[0].opacity) == (
        -3,
        41,
        (10, 8),
        0.2,
    )
    assert art.remarks == ()


def test_groups_within_groups_keep_their_order(painting, read):
    outer = painting.create_group(name="trees")
    inner = outer.create_group(name="birches", opacity=102)
    add(inner, "one")
    add(inner, "two")
    add(outer, "oak")
    trees, _ = read(painting).layers
    assert isinstance(trees, ArtGroup)
    assert [part.name for part in trees.layers] == ["oak", "birches"]
    assert [part.name for part in trees.layers[1].layers] == ["two", "one"]
    assert trees.layers[1].opacity == 0.4


def test_fill_is_a_part_of_the_opacity(painting, read):
    layer = add(painting, "veil", opacity=102)
    layer.tagged_blocks.set_data(Tag.BLEND_FILL_OPACITY, 51)
    assert read(painting).layers[0].opacity == pytest.approx(0.4 * 0.2)


def test_a_mask_is_the_alpha_and_outside_of_it_its_own_tone(painting, read):
    layer = add(painting, "masked", left=20, top=10)
    layer.create_mask(Image.fromarray(np.arange(80, dtype=np.uint8).reshape(8, 10)))
    record = layer._record.mask_data
    # the mask is moved 4 px right and 3 px down, and shows the rest in full
    record.left, record.right, record.top, record.bottom = 24, 34, 13, 21
    record.background_color = 255
    alpha = read(painting).layers[0].painted()[..., 3]
    expected = np.full((8, 10), 255)
    expected[3:, 4:] = np.arange(80).reshape(8, 10)[:5, :6]
    np.testing.assert_array_equal(alpha, expected)


def test_a_mask_that_is_switched_off_does_nothing(painting, read):
    layer = add(painting, "masked")
    layer.create_mask(Image.new("L", (10, 8), 7))
    layer.mask.disabled = True
    assert (read(painting).layers[0].painted()[..., 3] == 255).all()


def test_what_is_clipped_shows_where_its_base_does(painting, read):
    add(painting, "rock", left=10, top=10)
    add(painting, "moss", left=14, top=5, opacity=51).clipping = True
    above, below = noise((10, 8), seed=1)[..., :3].astype(float), noise((10, 8), seed=1)[..., :3].astype(float)
    below[:3, 4:] = below[:3, 4:] * 0.8 + above[5:, :6] * 0.2
    art = read(painting)
    assert [layer.name for layer in art.layers] == ["rock", "sky"]
    np.testing.assert_allclose(art.layers[0].painted()[..., :3], below, atol=0.51)
    assert art.remarks == ("'moss', clipped to 'rock', was painted into it",)


LOST = [
    ("a blend", lambda d: setattr(add(d, "x"), "blend_mode", BlendMode.LINEAR_BURN), "'x' is blended by linear burn"),
    (
        "an adjustment",
        lambda d: add(d, "x").tagged_blocks.set_data(Tag.INVERT),
        "'x' has no pixels (its kind is invert)",
    ),
    ("nothing", lambda d: add(d, "x", size_px=(0, 0)), "'x' is empty and was left out"),
    ("hidden", lambda d: setattr(add(d, "x"), "visible", False), "'x' is hidden and was left out"),
    ("an empty group", lambda d: d.create_group(name="x"), "group 'x' has nothing in it that shows"),
]


@pytest.mark.parametrize(("lose", "said"), [case[1:] for case in LOST], ids=[case[0] for case in LOST])
def test_what_is_lost_is_said_with_its_name(painting, read, tmp_path, lose, said):
    lose(painting)
    _, remarks = import_art(read(painting), folder=tmp_path / "shot", pixels=PillowPixels())
    assert len(remarks) == 1
    assert remarks[0].startswith(said)


def test_a_clipped_adjustment_and_a_hidden_clipped_layer_are_named(painting, read):
    for name in ("curves", "notes"):
        layer = add(painting, name)
        layer.clipping = True
    painting[1].tagged_blocks.set_data(Tag.INVERT)
    painting[2].visible = False
    art = read(painting)
    assert [layer.name for layer in art.layers] == ["sky"]
    assert art.remarks[0].startswith("'curves', clipped to 'sky', has no pixels (its kind is invert) and was left out")
    assert art.remarks[1] == "'notes', clipped to 'sky', is hidden and was left out"


def test_of_what_is_hidden_nothing_else_is_said(painting, read):
    group = painting.create_group(name="old")
    add(group, "x").tagged_blocks.set_data(Tag.INVERT)
    group.visible = False
    assert read(painting).remarks == ()


def test_a_flat_file_is_one_level(tmp_path):
    picture = noise(CANVAS, seed=4)[..., :3]
    psd_tools.PSDImage.frompil(Image.fromarray(picture)).save(tmp_path / "x.psd")
    art = read_psd(tmp_path / "x.psd")
    assert art.remarks == ("the file has no layers: the whole picture is one level",)
    np.testing.assert_array_equal(art.layers[0].painted()[..., :3], picture)


def test_another_profile_than_srgb_is_converted_and_said(painting, read):
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB"))
    painting.image_resources[Resource.ICC_PROFILE] = psd_tools.psd.image_resources.ImageResource(
        key=Resource.ICC_PROFILE.value, data=profile.tobytes()
    )
    assert "the colours were converted from the file's profile to sRGB" in read(painting).remarks


def test_the_srgb_profile_needs_no_word(painting, read):
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB"))
    painting.image_resources[Resource.ICC_PROFILE] = psd_tools.psd.image_resources.ImageResource(
        key=Resource.ICC_PROFILE.value, data=profile.tobytes()
    )
    assert read(painting).remarks == ()


def test_colours_that_are_no_rgb_are_sent_back(tmp_path):
    document = psd_tools.PSDImage.new("LAB", CANVAS)
    assert document.color_mode is ColorMode.LAB
    document.save(tmp_path / "x.psd")
    with pytest.raises(ShotError, match="has lab colours; convert it to RGB"):
        read_psd(tmp_path / "x.psd")


@pytest.mark.parametrize("data", [b"", b"8BPS", b"shopping list", b"8BPS\0\1" + bytes(100)])
def test_what_is_no_psd_is_one_line(tmp_path, data):
    (tmp_path / "x.psd").write_bytes(data)
    with pytest.raises(ShotError, match=r"x\.psd: is no whole PSD file") as caught:
        read_psd(tmp_path / "x.psd")
    assert "\n" not in str(caught.value)


@pytest.mark.filterwarnings("ignore")
def test_a_psd_with_any_byte_turned_comes_in_or_is_refused(painting, tmp_path):
    add(painting.create_group(name="trees"), "oak", left=5, top=5)
    painting.save(tmp_path / "x.psd")
    whole = (tmp_path / "x.psd").read_bytes()
    turned = np.random.default_rng(11).choice(len(whole), size=150, replace=False)
    # the header and the layers' records count for more than the pixels
    for place in [*range(0, 60, 2), *turned.tolist()]:
        (tmp_path / "x.psd").write_bytes(whole[:place] + bytes([whole[place] ^ 0xFF]) + whole[place + 1 :])
        try:
            shot, _ = import_art(read_psd(tmp_path / "x.psd"), folder=tmp_path / f"shot{place}", pixels=PillowPixels())
        except ShotError:
            assert not (tmp_path / f"shot{place}").exists()
        else:
            assert len(files_in(shot.folder)) == len(shot.levels) + 1
