# SPDX-License-Identifier: GPL-3.0-or-later
"""What numpy and zlib read of an EXR file is, to the last bit, what the OpenEXR library put into it."""

from pathlib import Path

import numpy as np
import OpenEXR
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underglass.image.pass_file import PassFileError, read_pass_file

PACKED = {
    "none": OpenEXR.NO_COMPRESSION,
    "ZIPS": OpenEXR.ZIPS_COMPRESSION,
    "ZIP": OpenEXR.ZIP_COMPRESSION,
}
ORDERS = {"from the top": OpenEXR.INCREASING_Y, "from the bottom": OpenEXR.DECREASING_Y}
NAMES = ["R", "G", "B", "A", "ViewLayer.level0.R", "ViewLayer.level10.G", "View Layer.näher.B", "Z"]
# More lines than one chunk of ZIP holds, and a last chunk that is not full.
FRAME = (37, 21)


def planes(*, width: int, height: int, kinds: list[type], seed: int, smooth: bool) -> dict[str, np.ndarray]:
    """Return a channel of each of ``kinds``: noise, which does not shrink, or a slope, which does."""
    random = np.random.default_rng(seed)
    slope = np.linspace(0.0, 1.0, width) + np.linspace(-3.0, 5.0, height)[:, None]
    made = {}
    for name, kind in zip(NAMES, kinds, strict=False):
        made[name] = (slope if smooth else random.normal(0.0, 100.0, (height, width))).astype(kind)
    return made


def write(
    path: Path, channels: dict[str, np.ndarray], *, packed: object, order: object = OpenEXR.INCREASING_Y, **more: object
) -> None:
    """Have the library write a file."""
    header = {"compression": packed, "lineOrder": order, "type": OpenEXR.scanlineimage, **more}
    # a dictionary of its own, since the library puts things of its own in it
    OpenEXR.File(header, dict(channels)).write(str(path))


def same(path: Path, channels: dict[str, np.ndarray]) -> None:
    ours = read_pass_file(path)
    assert set(ours) == set(channels)
    for name, plane in channels.items():
        assert ours[name].dtype == np.float32
        np.testing.assert_array_equal(ours[name], plane.astype(np.float32), err_msg=name)


@pytest.mark.parametrize("packed", PACKED.values(), ids=PACKED.keys())
@pytest.mark.parametrize("order", ORDERS.values(), ids=ORDERS.keys())
@pytest.mark.parametrize("smooth", [True, False], ids=["slope", "noise"])
def test_every_way_to_pack_in_both_orders(packed: object, order: object, smooth: bool, tmp_path: Path) -> None:
    width, height = FRAME
    kinds = [np.float32, np.float16, np.float16, np.float32, np.float16]
    channels = planes(width=width, height=height, kinds=kinds, seed=7, smooth=smooth)
    write(tmp_path / "a.exr", channels, packed=packed, order=order)
    same(tmp_path / "a.exr", channels)


@given(
    width=st.integers(1, 40),
    height=st.integers(1, 40),
    kinds=st.lists(st.sampled_from([np.float16, np.float32]), min_size=1, max_size=len(NAMES)),
    packed=st.sampled_from(sorted(PACKED)),
    order=st.sampled_from(sorted(ORDERS)),
    seed=st.integers(0, 2**32 - 1),
    smooth=st.booleans(),
)
def test_any_frame_is_read_as_it_was_written(
    width: int,
    height: int,
    kinds: list[type],
    packed: str,
    order: str,
    seed: int,
    smooth: bool,
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    path = tmp_path_factory.getbasetemp() / "any.exr"
    channels = planes(width=width, height=height, kinds=kinds, seed=seed, smooth=smooth)
    write(path, channels, packed=PACKED[packed], order=ORDERS[order])
    same(path, channels)


@pytest.mark.parametrize("packed", PACKED.values(), ids=PACKED.keys())
def test_a_data_window_that_begins_elsewhere(packed: object, tmp_path: Path) -> None:
    width, height = FRAME
    channels = planes(width=width, height=height, kinds=[np.float32] * 3, seed=11, smooth=False)
    corner = np.array([-5, 103], dtype=np.int32)
    window = (corner, corner + np.array([width - 1, height - 1], dtype=np.int32))
    write(tmp_path / "a.exr", channels, packed=packed, dataWindow=window)
    written = OpenEXR.File(str(tmp_path / "a.exr")).header()["dataWindow"]
    assert [list(end) for end in written] == [[-5, 103], [31, 123]]
    same(tmp_path / "a.exr", channels)


def test_numbers_that_are_none_come_through(tmp_path: Path) -> None:
    plane = np.array([[np.nan, np.inf, -np.inf], [0.0, -0.0, 1e-40]], dtype=np.float32)
    write(tmp_path / "a.exr", {"R": plane, "G": plane.astype(np.float16)}, packed=OpenEXR.ZIPS_COMPRESSION)
    ours = read_pass_file(tmp_path / "a.exr")
    assert ours["R"].tobytes() == plane.tobytes()
    assert np.isnan(ours["G"][0, 0])


@pytest.mark.parametrize(
    ("header", "kind", "words"),
    [
        ({"compression": OpenEXR.PIZ_COMPRESSION}, np.float32, "compression is number 4"),
        ({"compression": OpenEXR.RLE_COMPRESSION}, np.float32, "compression is number 1"),
        ({"compression": OpenEXR.ZIPS_COMPRESSION}, np.uint32, "neither half nor single"),
        (
            {"compression": OpenEXR.ZIPS_COMPRESSION, "type": OpenEXR.tiledimage, "tiles": OpenEXR.TileDescription()},
            np.float32,
            "has tiles",
        ),
    ],
    ids=["PIZ", "RLE", "whole numbers", "tiles"],
)
def test_another_form_of_the_format_is_named(header: dict, kind: type, words: str, tmp_path: Path) -> None:
    path = tmp_path / "a.exr"
    write(path, {"R": np.ones((9, 9), dtype=kind)}, packed=header["compression"], **header)
    with pytest.raises(PassFileError, match=words) as caught:
        read_pass_file(path)
    assert "\n" not in str(caught.value)


def test_a_file_of_several_parts_is_named(tmp_path: Path) -> None:
    path = tmp_path / "a.exr"
    plane = np.ones((9, 9), dtype=np.float32)
    parts = [OpenEXR.Part({"type": OpenEXR.scanlineimage}, {"R": plane}, name) for name in ("one", "two")]
    OpenEXR.File(parts).write(str(path))
    with pytest.raises(PassFileError, match="several parts"):
        read_pass_file(path)
