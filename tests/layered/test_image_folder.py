# SPDX-License-Identifier: GPL-3.0-or-later
"""A folder of images as layered art: which lies nearest, how large the canvas is, what is left out."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layered.paintings import noise, write_folder
from underglass.layered import read_layered
from underglass.layered.image_folder import in_order
from underglass.shot import ShotError


def test_files_follow_each_other_as_people_number_them():
    assert in_order(["10 sky.png", "9 hills.png", "1 reeds.png", "01b.png"]) == [
        "1 reeds.png",
        "01b.png",
        "9 hills.png",
        "10 sky.png",
    ]


@given(st.lists(st.text(max_size=20)))
def test_the_order_of_files_does_not_depend_on_how_the_disk_lists_them(names):
    assert in_order(reversed(names)) == in_order(names)
    assert sorted(in_order(names)) == sorted(names)


def test_the_first_name_is_nearest_the_lens_and_numbers_are_not_said(tmp_path):
    images = {name: noise((8, 6), seed=0) for name in ("10 sky.png", "2 reeds.png", "1 branches.tif")}
    art = read_layered(write_folder(tmp_path / "art", images))
    assert [layer.name for layer in art.layers] == ["branches", "reeds", "sky"]
    assert [layer.suffix for layer in art.layers] == [".tif", ".png", ".png"]
    assert {(layer.left, layer.top) for layer in art.layers} == {(0, 0)}
    assert art.remarks == ()


def test_the_rearmost_image_is_the_canvas_and_others_lie_in_its_middle(tmp_path):
    images = {"1.png": noise((10, 30), seed=0), "2.png": noise((5, 4), seed=0), "3.png": noise((20, 10), seed=0)}
    art = read_layered(write_folder(tmp_path / "art", images))
    assert art.canvas_px == (20, 10)
    assert [(layer.left, layer.top) for layer in art.layers] == [(5, -10), (7, 3), (0, 0)]


def test_the_bytes_of_a_layer_are_those_of_its_file(tmp_path):
    folder = write_folder(tmp_path / "art", {"sky.png": noise((8, 6), seed=0)})
    assert read_layered(folder).layers[0].source() == (folder / "sky.png").read_bytes()


def test_other_files_are_named_and_hidden_ones_passed_over(tmp_path):
    folder = write_folder(tmp_path / "art", {"sky.png": noise((8, 6), seed=0)})
    (folder / ".sky.png").write_bytes(b"resource fork")
    (folder / "notes.txt").write_text("mind the fog")
    (folder / "more.png").mkdir()
    art = read_layered(folder)
    assert [layer.name for layer in art.layers] == ["sky"]
    assert art.remarks == ("left out, no images of this folder: 'more.png', 'notes.txt'",)


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda folder: None, "holds no PNG, TIFF or EXR file"),
        (lambda folder: (folder / "sky.png").write_bytes(b"\x89PNG\r\n\x1a\n"), "sky.png.*is cut short"),
        (lambda folder: (folder / "sky.png").write_bytes(b"GIF89a"), "is a GIF file"),
    ],
    ids=["empty", "cut", "misnamed"],
)
def test_a_folder_that_cannot_be_shot_says_why(tmp_path, make, said):
    (tmp_path / "art").mkdir()
    make(tmp_path / "art")
    with pytest.raises(ShotError, match=said):
        read_layered(tmp_path / "art")


@pytest.mark.parametrize(
    ("name", "said"),
    [("nowhere", "is not there"), ("x.psd", "underglass new ART"), ("x.xcf", "export it as OpenRaster")],
)
def test_what_is_no_layered_art_is_sent_where_it_is_read(tmp_path, name, said):
    if name != "nowhere":
        (tmp_path / name).write_bytes(b"8BPS")
    with pytest.raises(ShotError, match=said):
        read_layered(tmp_path / name)
