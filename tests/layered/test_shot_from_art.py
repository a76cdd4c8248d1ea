# SPDX-License-Identifier: GPL-3.0-or-later
"""From layered art to a shot on disk: which bytes, which pixels, what is said, and nothing where it fails."""

import tomllib

import numpy as np
import pytest
from PIL import Image

from layered.paintings import CANVAS, files_in, noise, opened, png, write_folder, write_ora
from underglass.layered import import_art, read_layered
from underglass.shot import ShotError
from underglass.shot.files import read_shot
from underglass_headless.art.pillow_pixels import PillowPixels, png_of

A, B, SKY = noise((20, 10), seed=1), noise((16, 12), seed=2), noise(CANVAS, seed=3, alpha=255)
IMAGES = {"data/a.png": png(A), "data/b.png": png(B), "data/sky.png": png(SKY)}
SKY_LAYER = '<layer name="sky" src="data/sky.png"/>'
TREES = (
    '<stack name="trees" {group}><layer name="oak" src="data/a.png" x="4" y="5" {oak}/>'
    '<layer name="ash" src="data/b.png" x="10" y="7"/></stack>'
)


@pytest.fixture
def come_in(tmp_path):
    """Return a function that makes a shot of the XML of some layers, and returns it and what was said."""

    def run(layers, **options):
        art = read_layered(write_ora(tmp_path / "estuary.ora", layers, IMAGES))
        return import_art(art, folder=tmp_path / "shot", pixels=PillowPixels(), **options)

    return run


def trees(group="", oak=""):
    return TREES.format(group=group, oak=oak) + SKY_LAYER


def test_a_layer_that_shows_in_full_is_copied_byte_for_byte(come_in, tmp_path):
    shot, remarks = come_in(trees())
    assert files_in(tmp_path / "shot") == ["art/sky.png", "art/trees_ash.png", "art/trees_oak.png", "shot.toml"]
    for file, source in (("trees_oak", "data/a.png"), ("trees_ash", "data/b.png"), ("sky", "data/sky.png")):
        assert (tmp_path / "shot" / "art" / f"{file}.png").read_bytes() == IMAGES[source]
    assert shot.names == ("trees / oak", "trees / ash", "sky")
    assert remarks == ()


def test_the_shot_on_disk_is_the_shot_that_is_returned(come_in, tmp_path):
    shot, _ = come_in(trees(), units="cm", title="Estuary")
    assert read_shot(tmp_path / "shot") == shot
    assert shot.folder == tmp_path / "shot"
    assert (shot.title, shot.units) == ("Estuary", "cm")
    assert shot.art_path(shot.levels[0]).is_file()


def test_opacity_is_painted_into_the_alpha(come_in, tmp_path):
    come_in(f'<layer name="a" src="data/a.png" opacity="0.5"/>{SKY_LAYER}')
    seen = opened(tmp_path / "shot/art/a.png")
    np.testing.assert_array_equal(seen[..., :3], A[..., :3])
    np.testing.assert_array_equal(seen[..., 3], np.rint(A[..., 3] * 0.5))


def test_hidden_and_wholly_clear_layers_are_left_out_and_named(come_in):
    layers = (
        '<layer name="notes" src="data/a.png" visibility="hidden"/><layer name="veil" src="data/a.png" opacity="0"/>'
        f'<stack name="old" visibility="hidden">{SKY_LAYER}</stack><stack name="none"/>'
    )
    shot, remarks = come_in(layers + SKY_LAYER)
    assert shot.names == ("sky",)
    assert remarks == (
        "'notes' is hidden and was left out",
        "'veil' is wholly clear (opacity 0) and was left out",
        "group 'old' is hidden and was left out",
        "group 'none' has nothing in it that shows and was left out",
    )


def test_a_blend_that_no_glass_has_is_said_with_its_name(come_in):
    _, remarks = come_in(f'<layer name="glow" src="data/a.png" composite-op="svg:screen"/>{SKY_LAYER}')
    assert remarks == ("'glow' is blended by svg:screen; on the stand it is laid over plainly",)


def test_the_opacity_of_a_group_goes_to_its_layers_where_it_is_kept(come_in, tmp_path):
    shot, remarks = come_in(trees(group='opacity="0.5"', oak='opacity="0.5"'))
    assert "group 'trees' gave its opacity to each of its layers" in remarks[0]
    np.testing.assert_array_equal(opened(tmp_path / "shot/art/trees_oak.png")[..., 3], np.rint(A[..., 3] * 0.25))
    np.testing.assert_array_equal(opened(tmp_path / "shot/art/trees_ash.png")[..., 3], np.rint(B[..., 3] * 0.5))
    assert len(shot.levels) == 3


@pytest.mark.parametrize("nested", [False, True])
def test_a_flattened_group_looks_as_pillow_lays_its_layers_over_each_other(come_in, tmp_path, nested):
    layers = trees(oak='opacity="0.6"')
    if nested:
        layers = layers.replace('<layer name="ash"', '<stack><layer name="ash"').replace("</stack>", "</stack></stack>")
    shot, remarks = come_in(layers, groups="flatten")
    assert remarks == ()
    assert shot.names == ("trees", "sky")
    # the group reaches from 4, 5 to 26, 19 on the canvas
    seen = opened(tmp_path / "shot/art/trees.png").astype(int)
    oak = A.copy()
    oak[..., 3] = np.rint(A[..., 3] * 0.6)
    sheet = Image.new("RGBA", (22, 14))
    sheet.alpha_composite(Image.fromarray(B), (6, 2))
    sheet.alpha_composite(Image.fromarray(oak), (0, 0))
    expected = np.asarray(sheet).astype(int)
    # Pillow rounds alpha and colours to 8 bits after each layer, so the two are compared as they show, to two codes
    assert np.abs(seen[..., 3] - expected[..., 3]).max() <= 1
    light, other = (pixels[..., :3] * pixels[..., 3:] / 255 for pixels in (seen, expected))
    assert np.abs(light - other).max() <= 2


def test_a_flattened_group_of_some_opacity_is_faded_as_a_whole(come_in, tmp_path):
    full = (
        '<stack name="g" opacity="0.5"><layer name="1" src="data/sky.png"/><layer name="2" src="data/a.png"/></stack>'
    )
    shot, _ = come_in(full + SKY_LAYER, groups="flatten")
    seen = opened(shot.art_path(shot.levels[0]))
    np.testing.assert_array_equal(seen[..., :3], SKY[..., :3])
    assert set(np.unique(seen[..., 3])) == {128}


def test_a_layer_without_alpha_gets_one_unless_it_is_the_rearmost(tmp_path):
    images = {"1 card.png": A[..., :3], "2 sky.png": SKY[..., :3]}
    art = read_layered(write_folder(tmp_path / "art", images))
    shot, remarks = import_art(art, folder=tmp_path / "shot", pixels=PillowPixels())
    assert remarks == ("'card' has no alpha channel: it hides what lies below it",)
    np.testing.assert_array_equal(opened(shot.art_path(shot.levels[0]))[..., :3], A[..., :3])
    assert shot.art_path(shot.levels[1]).read_bytes() == (tmp_path / "art" / "2 sky.png").read_bytes()


def test_sixteen_bits_that_pillow_cannot_keep_are_said_to_be_lost(tmp_path):
    deep = png_of(np.random.default_rng(5).random((48, 64, 4), dtype=np.float32))
    layers = '<layer name="a" src="data/d.png" opacity="0.5"/><layer name="b" src="data/d.png"/>'
    art = read_layered(write_ora(tmp_path / "x.ora", layers, {"data/d.png": deep}))
    shot, remarks = import_art(art, folder=tmp_path / "shot", pixels=PillowPixels())
    assert remarks == ("'a' had 16 bits a channel, and has 8 since it was painted again",)
    assert shot.art_path(shot.levels[1]).read_bytes() == deep


def test_tiff_and_names_of_any_script_come_through(tmp_path):
    folder = write_folder(tmp_path / "art", {"1 Камыш.tif": A, "2 camera.png": B, "3 небо.png": SKY})
    shot, remarks = import_art(read_layered(folder), folder=tmp_path / "shot", pixels=PillowPixels())
    assert shot.names == ("Камыш", "camera level", "небо")
    assert shot.levels[0].art == "art/Камыш.tif"
    assert remarks == ("'camera' is the level 'camera level': names of levels are short, plain and all different",)
    assert tomllib.loads((tmp_path / "shot/shot.toml").read_text("utf-8"))["level"][2]["name"] == "небо"


def test_layers_of_one_name_become_levels_of_their_own(come_in, tmp_path):
    shot, _ = come_in('<layer name="fog" src="data/a.png"/><layer name="fog" src="data/b.png"/>' + SKY_LAYER)
    assert shot.names == ("fog", "fog 2", "sky")
    assert shot.art_path(shot.levels[1]).read_bytes() == IMAGES["data/b.png"]


class TestAllOrNothing:
    def test_a_folder_with_a_shot_is_left_alone(self, come_in, tmp_path):
        (tmp_path / "shot").mkdir()
        (tmp_path / "shot/shot.toml").write_text("mine")
        with pytest.raises(ShotError, match="has a shot already; choose a new or an empty folder"):
            come_in(SKY_LAYER)
        assert (tmp_path / "shot/shot.toml").read_text() == "mine"
        assert files_in(tmp_path / "shot") == ["shot.toml"]

    def test_a_folder_with_anything_is_left_alone(self, come_in, tmp_path):
        (tmp_path / "shot").mkdir()
        (tmp_path / "shot/notes.txt").write_text("mine")
        with pytest.raises(ShotError, match=r"is not empty \('notes.txt' lies in it\)"):
            come_in(SKY_LAYER)

    def test_a_file_in_its_place_is_left_alone(self, come_in, tmp_path):
        (tmp_path / "shot").write_text("mine")
        with pytest.raises(ShotError, match="is no folder to write in"):
            come_in(SKY_LAYER)
        assert (tmp_path / "shot").read_text() == "mine"

    def test_an_empty_folder_is_filled(self, come_in, tmp_path):
        (tmp_path / "shot").mkdir()
        come_in(SKY_LAYER)
        assert files_in(tmp_path / "shot") == ["art/sky.png", "shot.toml"]
        assert {path.name for path in (tmp_path / "shot").iterdir()} == {"art", "shot.toml"}

    @pytest.mark.parametrize("there", [True, False], ids=["empty", "new"])
    def test_where_pixels_fail_nothing_is_left(self, tmp_path, there):
        class Failing(PillowPixels):
            def write(self, path, array):
                raise OSError(28, "No space left on device")

        if there:
            (tmp_path / "deep").mkdir()
        layers = '<layer name="a" src="data/a.png"/><layer name="b" src="data/b.png" opacity="0.5"/>' + SKY_LAYER
        art = read_layered(write_ora(tmp_path / "estuary.ora", layers, IMAGES))
        folder = tmp_path / "deep" if there else tmp_path / "deep" / "er" / "shot"
        with pytest.raises(ShotError, match=r"cannot be written.*No space left"):
            import_art(art, folder=folder, pixels=Failing())
        assert (tmp_path / "deep").exists() == there
        assert files_in(tmp_path) == ["estuary.ora"]

    def test_a_file_that_changes_while_it_is_read_is_refused(self, tmp_path):
        folder = write_folder(tmp_path / "art", {"1 a.png": A, "2 sky.png": SKY})
        art = read_layered(folder)
        Image.fromarray(B).save(folder / "1 a.png")
        with pytest.raises(ShotError, match="a: has changed on disk while it was read"):
            import_art(art, folder=tmp_path / "shot", pixels=PillowPixels())
        assert not (tmp_path / "shot").exists()

    def test_a_group_too_large_to_paint_is_refused_before_it_fills_the_memory(self, come_in, tmp_path):
        layers = '<stack name="g"><layer src="data/a.png" x="900000"/><layer src="data/a.png"/></stack>' + SKY_LAYER
        with pytest.raises(ShotError, match="g: is 900020×10 px"):
            come_in(layers, groups="flatten")
        assert files_in(tmp_path) == ["estuary.ora"]

    def test_more_layers_than_levels_are_refused_before_anything_is_written(self, come_in, tmp_path):
        with pytest.raises(ShotError, match="makes 60 levels"):
            come_in(SKY_LAYER * 60)
        assert files_in(tmp_path) == ["estuary.ora"]
