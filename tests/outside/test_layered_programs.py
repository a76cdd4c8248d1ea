# SPDX-License-Identifier: GPL-3.0-or-later
"""Layered art that other people's programs wrote, against what they themselves, or others, make of it.

OpenRaster through pyora, PSD through psd-tools, PNG of 16 bits through OpenCV, and the picture through Blender.
"""

from pathlib import Path

import cv2
import numpy as np
import psd_tools
import pyora
import pytest
from PIL import Image

from layered.paintings import noise, opened
from underglass.layered import import_art
from underglass.shot.files import read_shot
from underglass_headless import cli
from underglass_headless.art.new_command import read_any
from underglass_headless.art.pillow_pixels import PillowPixels, png_of
from underglass_headless.exr.read_exr import read_channels

pytestmark = pytest.mark.once

CANVAS = (160, 120)
# Two programs that round to 8 bits at different steps may differ by this many codes where three layers meet.
SAME_CODES = 2


def glass(size_px, *, seed):
    """Return noise in squares of which every other one is clear, so that linear and coded light look alike."""
    pixels = noise(size_px, seed=seed)
    squares = np.add.outer(np.arange(size_px[1]) // 10, np.arange(size_px[0]) // 10)
    pixels[..., 3] = np.where(squares % 2, 255, 0)
    return pixels


@pytest.fixture
def estuary(tmp_path):
    """Return a painting as pyora saves it: its file, pyora's own picture of it, and the pixels of its layers."""
    project = pyora.Project.new(*CANVAS)
    layers = {
        "sky": noise(CANVAS, seed=1, alpha=255),
        "boat": glass((60, 40), seed=2),
        "reeds": glass((90, 50), seed=3),
    }
    project.add_layer(Image.fromarray(layers["sky"]), path="/sky")
    project.add_group("/near")
    project.add_layer(Image.fromarray(layers["boat"]), path="/near/boat", offsets=(70, 31))
    project.add_layer(Image.fromarray(layers["reeds"]), path="/near/reeds", offsets=(-10, 69))
    project.save(str(tmp_path / "estuary.ora"))
    return tmp_path / "estuary.ora", np.asarray(project.get_image_data(use_original=False)), layers


def test_a_painting_that_pyora_saved_comes_in_with_its_pixels(estuary, tmp_path):
    file, _, layers = estuary
    shot, remarks = import_art(read_any(file), folder=tmp_path / "shot", pixels=PillowPixels())
    assert remarks == ()
    assert shot.names == ("near / reeds", "near / boat", "sky")
    for level in shot.levels:
        np.testing.assert_array_equal(opened(shot.art_path(level)), layers[level.name.split(" / ")[-1]])


PICTURE = """
import sys
from pathlib import Path
import bpy
from underglass import blender_versions
from underglass.plan import make_plan
from underglass.shot.files import read_shot
from underglass.stage import build_stack, proof_passes

folder = Path(sys.argv[1])
bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
scene = bpy.context.scene
build_stack.build(make_plan(read_shot(folder)), scene)
proof_passes.quiet(scene, threads=2)
proof_passes.prepare_picture(scene, samples=1, depth_of_field=False)
# one sample, and that at the pixel's centre, where the centre of a pixel of the painting should be
blender_versions.jitter_pixels(scene, on=False)
scene.cycles.pixel_filter_type, scene.cycles.filter_width = "BOX", proof_passes.SMALLEST_FILTER
scene.render.filepath = str(folder / "picture.exr")
bpy.ops.render.render(write_still=True)
answer("rendered")
"""


@pytest.mark.render
@pytest.mark.parametrize("groups", ["keep", "flatten"])
def test_the_picture_through_the_lens_is_the_painting(estuary, tmp_path, groups, run_in_blender):
    file, painting, _ = estuary
    import_art(read_any(file), folder=tmp_path / "shot", pixels=PillowPixels(), groups=groups)
    run_in_blender(PICTURE, tmp_path / "shot")
    channels = read_channels(tmp_path / "shot/picture.exr")
    light = np.stack([channels[name] for name in "RGB"], axis=-1)
    # IEC 61966-2-1, the transfer function of sRGB
    seen = np.rint(255 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055))
    assert np.abs(seen - painting[..., :3]).max() <= SAME_CODES


@pytest.mark.bpy
@pytest.mark.render
def test_the_stack_of_a_painting_is_proved(estuary, tmp_path, capsys):
    assert cli.run(["new", str(estuary[0]), "-o", str(tmp_path / "shot"), "--units", "cm"]) == 0
    assert "3 levels, a frame of 160×120 px" in capsys.readouterr().out
    assert cli.run(["prove", str(tmp_path / "shot"), "--frames", "1", "--no-pictures"]) == 0


def psd_of(path: Path, *, mode: str = "RGB", depth: int = 8) -> psd_tools.PSDImage:
    """Save a PSD: a sky, a group of two trees at half its opacity, and a shade clipped to a rock; return it opened."""
    document = psd_tools.PSDImage.new(mode, CANVAS, depth=depth)
    rng = np.random.default_rng(7)

    def add(group, name, size_px, **place):
        if depth == 16:
            array = rng.integers(0, 65536, (size_px[1], size_px[0], 4 if mode == "RGB" else 2), dtype=np.uint16)
            return group.create_pixel_layer_from_array(array, name=name, **place)
        return group.create_pixel_layer(Image.fromarray(noise(size_px, seed=len(name))), name=name, **place)

    add(document, "sky", CANVAS)
    trees = document.create_group(name="trees", opacity=128)
    add(trees, "ash", (40, 30), top=20, left=5)
    add(trees, "oak leaves", (40, 30), top=33, left=-15, opacity=200)
    add(document, "rock", (24, 20), top=90, left=100)
    add(document, "shade", (24, 20), top=84, left=110, opacity=150).clipping = True
    document.save(path)
    return psd_tools.PSDImage.open(path)


def as_it_shows(pixels):
    """Return colours with the alpha in them: what is clear has no colour to compare."""
    pixels = np.asarray(pixels, dtype=float)
    return np.concatenate([pixels[..., :3] * pixels[..., 3:] / 255, pixels[..., 3:]], axis=-1)


@pytest.mark.parametrize("mode", ["RGB", "L", "CMYK"])
def test_a_psd_comes_in_where_and_as_psd_tools_has_it(tmp_path, mode):
    document = psd_of(tmp_path / "x.psd", mode=mode)
    shot, remarks = import_art(read_any(tmp_path / "x.psd"), folder=tmp_path / "shot", pixels=PillowPixels())
    assert shot.names == ("rock", "trees / oak leaves", "trees / ash", "sky")
    assert "'shade', clipped to 'rock', was painted into it" in remarks
    assert ("the colours were converted from CMYK to RGB: compare them with the painting" in remarks) == (
        mode == "CMYK"
    )
    sky = document[0]
    seen = opened(shot.art_path(shot.levels[-1]))
    np.testing.assert_array_equal(seen[..., :3], np.asarray(sky.topil().convert("RGB")))
    np.testing.assert_array_equal(seen[..., 3], noise(CANVAS, seed=3)[..., 3])


@pytest.mark.parametrize(("level", "layer"), [("rock", 2), ("trees", 1)])
def test_clipped_layers_and_flattened_groups_look_as_psd_tools_composes_them(tmp_path, level, layer):
    document = psd_of(tmp_path / "x.psd")
    shot, _ = import_art(
        read_any(tmp_path / "x.psd"), folder=tmp_path / "shot", pixels=PillowPixels(), groups="flatten"
    )
    assert shot.names == ("rock", "trees", "sky")
    seen = opened(shot.art_path(shot.levels[shot.names.index(level)]))
    theirs = document[layer].composite()
    assert seen.shape[1::-1] == theirs.size
    assert np.abs(as_it_shows(seen) - as_it_shows(theirs)).max() <= SAME_CODES


@pytest.mark.parametrize("mode", ["RGB", "L"])
def test_sixteen_bits_of_a_psd_stay_sixteen_as_opencv_reads_them(tmp_path, mode):
    document = psd_of(tmp_path / "x.psd", mode=mode, depth=16)
    shot, remarks = import_art(read_any(tmp_path / "x.psd"), folder=tmp_path / "shot", pixels=PillowPixels())
    assert not [remark for remark in remarks if "bits" in remark]
    seen = cv2.imread(str(shot.art_path(shot.levels[-1])), cv2.IMREAD_UNCHANGED)
    assert seen.dtype == np.uint16
    stored = np.rint(document[0].numpy() * 65535)
    colours = stored[..., 2::-1] if mode == "RGB" else np.repeat(stored[..., :1], 3, axis=-1)
    np.testing.assert_array_equal(seen[..., :3], colours)
    np.testing.assert_array_equal(seen[..., 3], stored[..., -1])
    # half the group's opacity times 200 of 255, painted into 16 bits
    tree = cv2.imread(str(shot.art_path(shot.levels[1])), cv2.IMREAD_UNCHANGED)
    np.testing.assert_allclose(
        tree[..., 3], np.rint(document[1][1].numpy("shape")[..., 0] * 65535 * 128 / 255 * 200 / 255), atol=1
    )


def test_a_png_of_sixteen_bits_is_read_by_opencv_to_the_last_one(tmp_path):
    codes = np.random.default_rng(9).integers(0, 65536, (13, 7, 4), dtype=np.uint16)
    (tmp_path / "x.png").write_bytes(png_of(codes.astype(np.float32) / np.float32(65535)))
    seen = cv2.imread(str(tmp_path / "x.png"), cv2.IMREAD_UNCHANGED)
    np.testing.assert_array_equal(seen[..., [2, 1, 0, 3]], codes)


def test_the_levels_of_a_psd_stand_where_its_layers_lie(tmp_path):
    document = psd_of(tmp_path / "x.psd")
    assert cli.run(["new", str(tmp_path / "x.psd"), "-o", str(tmp_path / "shot"), "--groups", "flatten"]) == 0
    from underglass.plan import corners_px, make_plan

    planned = corners_px(make_plan(read_shot(tmp_path / "shot")))[0, 1]
    left, top, right, bottom = document[1].bbox
    expected = [(left - 80, 60 - bottom), (right - 80, 60 - bottom), (right - 80, 60 - top), (left - 80, 60 - top)]
    np.testing.assert_allclose(planned, expected, atol=1e-6)
