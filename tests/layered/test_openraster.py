# SPDX-License-Identifier: GPL-3.0-or-later
"""OpenRaster files, whole ones and such as somebody made to do harm. The words of the format: openraster.org."""

import io
import struct
import zipfile
import zlib

import pytest

from layered.paintings import CANVAS, noise, png, write_ora
from underglass.layered import ArtGroup, openraster, read_layered
from underglass.shot import ShotError

IMAGE = png(noise((7, 5), seed=3))
A = '<layer name="a" src="data/a.png"/>'


def test_the_first_layer_of_a_stack_is_nearest_the_lens(tmp_path):
    layers = (
        '<layer name="reeds" src="data/a.png" x="-3" y="40" opacity="0.25"/>'
        '<layer name="sky" src="data/b.png" visibility="hidden" composite-op="svg:multiply"/>'
    )
    art = read_layered(write_ora(tmp_path / "x.ora", layers, {"data/a.png": IMAGE, "data/b.png": IMAGE}))
    assert art.canvas_px == CANVAS
    reeds, sky = art.layers
    assert (reeds.name, reeds.left, reeds.top, reeds.size_px, reeds.opacity) == ("reeds", -3, 40, (7, 5), 0.25)
    assert (reeds.visible, reeds.blend, reeds.source()) == (True, "normal", IMAGE)
    assert (sky.name, sky.visible, sky.blend, sky.opacity) == ("sky", False, "svg:multiply", 1.0)


def test_a_group_keeps_its_layers_and_older_drafts_place_them_within_it(tmp_path):
    layers = f'<stack name="trees" x="10" y="-1" opacity="0.5"><stack x="1">{A}</stack></stack>'
    art = read_layered(write_ora(tmp_path / "x.ora", layers))
    assert [remark.split(" has ")[0] for remark in art.remarks] == ["group 'trees'", "group 'group'"]
    (trees,) = art.layers
    assert isinstance(trees, ArtGroup)
    assert (trees.name, trees.opacity) == ("trees", 0.5)
    (inner,) = trees.layers
    assert [(layer.name, layer.left, layer.top) for layer in inner.layers] == [("a", 11, -1)]


def test_what_is_no_layer_of_pixels_is_named(tmp_path):
    art = read_layered(write_ora(tmp_path / "x.ora", f"<text>fog</text>{A}<!-- no more -->"))
    assert art.remarks == ("a 'text' element is left out: it is no layer of pixels",)
    assert len(art.layers) == 1


def test_layers_without_names_are_counted(tmp_path):
    art = read_layered(write_ora(tmp_path / "x.ora", '<layer src="data/a.png"/><layer src="data/a.png"/>'))
    assert [layer.name for layer in art.layers] == ["layer 1", "layer 2"]


def header(width: int, height: int) -> bytes:
    """Return a PNG file that says it is of that size, with next to nothing in it."""
    chunks = [(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 6, 0, 0, 0)), (b"IDAT", b"x"), (b"IEND", b"")]
    parts = (
        struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data)) for name, data in chunks
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


DEEP = "<stack>" * 200 + A + "</stack>" * 200
DEEPEST = "<stack>" * 100_000 + "</stack>" * 100_000
LAUGHS = (
    '<!DOCTYPE image [<!ENTITY a "ha"><!ENTITY b "&a;&a;">]><image version="0.0.5" w="64" h="48">'
    '<stack><layer name="&b;" src="data/a.png"/></stack></image>'
)
OUTSIDE = '<!DOCTYPE image [<!ENTITY a SYSTEM "file:///etc/hostname">]><image w="64" h="48"><stack>&a;</stack></image>'

HOSTILE = [
    (
        "a path that climbs out",
        {"layers": '<layer name="a" src="../../secret.png"/>'},
        "a: has the source '../../secret",
    ),
    ("an absolute path", {"layers": '<layer name="a" src="/etc/hostname"/>'}, "a: has the source '/etc/hostname'"),
    ("another drive", {"layers": r'<layer name="a" src="C:\secret.png"/>'}, "a: has the source 'C:"),
    ("no source", {"layers": '<layer name="a"/>'}, "a: has the source ''; it has to name"),
    ("a layer that is missing", {"layers": '<layer name="a" src="data/b.png"/>'}, "a: has the source 'data/b.png'"),
    ("entities", {"stack": LAUGHS}, "stack.xml: has a DOCTYPE"),
    ("an outside entity", {"stack": OUTSIDE}, "stack.xml: has a DOCTYPE"),
    ("entities in UTF-16", {"stack": LAUGHS.encode("utf-16")}, "stack.xml: is not UTF-8"),
    ("broken XML", {"stack": "<image w='64' h='48'><stack>"}, "stack.xml: is broken XML"),
    ("no stack", {"stack": "<image w='64' h='48'/>"}, "stack.xml: has no stack"),
    ("another root", {"stack": "<picture w='64' h='48'><stack/></picture>"}, "stack.xml: has no stack"),
    ("nesting", {"layers": DEEP}, "nests groups more than 32 deep"),
    ("huge nesting", {"layers": DEEPEST}, "nests groups more than 32 deep"),
    ("too many layers", {"layers": A * 1001}, "has more than 1000 layers"),
    ("another mimetype", {"layers": A, "mimetype": "application/zip"}, "mimetype: is 'application/zip'"),
    ("no mimetype", {"layers": A, "mimetype": None}, "mimetype: is not in the file"),
    ("no canvas", {"stack": "<image><stack/></image>"}, "image: has w=''"),
    ("an empty canvas", {"layers": A, "canvas": (0, 48)}, "canvas: is 0×48 px"),
    ("a huge canvas", {"layers": A, "canvas": (10**9, 48)}, "canvas: is 1000000000×48 px"),
    ("an offset that is no number", {"layers": A.replace("/>", ' x="left"/>')}, "a: has x='left'"),
    ("an offset between pixels", {"layers": A.replace("/>", ' y="0.5"/>')}, "a: has y='0.5'"),
    ("an endless offset", {"layers": A.replace("/>", ' x="1e999"/>')}, "a: has x='1e999'"),
    ("a far offset", {"layers": A.replace("/>", ' x="-9999999"/>')}, "a: lies at -9999999, 0 px"),
    ("no opacity", {"layers": A.replace("/>", ' opacity="nan"/>')}, "a: has the opacity 'nan'"),
    ("too much opacity", {"layers": A.replace("/>", ' opacity="255"/>')}, "a: has the opacity '255'"),
    ("another visibility", {"layers": A.replace("/>", ' visibility="no"/>')}, "a: has the visibility 'no'"),
    ("an image that is none", {"layers": A, "images": {"data/a.png": b"<svg/>"}}, "that is no PNG"),
    ("an image cut short", {"layers": A, "images": {"data/a.png": IMAGE[:60]}}, "'data/a.png' is cut short"),
    ("a huge image", {"layers": A, "images": {"data/a.png": header(10**6, 10**6)}}, "a: is 1000000×1000000 px"),
]


@pytest.mark.parametrize(("parts", "said"), [case[1:] for case in HOSTILE], ids=[case[0] for case in HOSTILE])
def test_a_hostile_file_is_one_clear_line(tmp_path, parts, said):
    file = write_ora(tmp_path / "x.ora", parts.pop("layers", ""), parts.pop("images", None), **parts)
    with pytest.raises(ShotError) as caught:
        read_layered(file)
    assert said in str(caught.value)
    assert str(caught.value).startswith(str(file))
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 400


def test_a_file_that_is_no_archive_says_so(tmp_path):
    (tmp_path / "x.ora").write_bytes(b"shopping list")
    with pytest.raises(ShotError, match="is no whole OpenRaster file"):
        read_layered(tmp_path / "x.ora")


def test_an_archive_cut_anywhere_is_one_error(tmp_path):
    whole = write_ora(tmp_path / "x.ora", A).read_bytes()
    for length in range(0, len(whole), 97):
        (tmp_path / "x.ora").write_bytes(whole[:length])
        with pytest.raises(ShotError):
            read_layered(tmp_path / "x.ora")


def test_an_archive_with_any_byte_turned_is_read_or_refused(tmp_path):
    whole = write_ora(tmp_path / "x.ora", A, {"data/a.png": IMAGE}).read_bytes()
    refused = 0
    for place in range(0, len(whole), 3):
        (tmp_path / "x.ora").write_bytes(whole[:place] + bytes([whole[place] ^ 0x55]) + whole[place + 1 :])
        try:
            read_layered(tmp_path / "x.ora")
        except ShotError:
            refused += 1
    assert refused > 100


@pytest.mark.parametrize("told", [True, False], ids=["its true size", "a size that is a lie"])
def test_a_bomb_is_not_unpacked(tmp_path, monkeypatch, told):
    monkeypatch.setattr(openraster, "MOST_LAYER_BYTES", 10_000)
    file = write_ora(tmp_path / "x.ora", A, {"data/a.png": b"\x89PNG\r\n\x1a\n" + bytes(10**6)})
    if not told:
        data = file.read_bytes()
        size = struct.pack("<I", 10**6 + 8)
        assert data.count(size) == 2
        file.write_bytes(data.replace(size, struct.pack("<I", 5000)))
    with pytest.raises(ShotError, match=r"unpacks to more than 10,000 bytes|cannot be unpacked"):
        read_layered(file)


def test_art_that_is_too_much_in_all_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(openraster, "MOST_ART_BYTES", 2 * len(IMAGE))
    file = write_ora(tmp_path / "x.ora", A * 3, {"data/a.png": IMAGE})
    with pytest.raises(ShotError, match="brings the art above"):
        read_layered(file)


def test_an_archive_under_a_password_is_refused(tmp_path):
    data = bytearray(write_ora(tmp_path / "x.ora", A).read_bytes())
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        at = archive.start_dir
    # The flag of encryption, in the entry of the first file of the archive's directory.
    data[at + 8] |= 1
    (tmp_path / "x.ora").write_bytes(data)
    with pytest.raises(ShotError, match="mimetype: cannot be unpacked"):
        read_layered(tmp_path / "x.ora")
