# SPDX-License-Identifier: GPL-3.0-or-later
"""The size and alpha of art from the headers of its files, and what is said of a file that cannot be used.

The images are built here byte by byte; readers that are not ours are asked in test_art_oracles.
"""

import os
import struct
import zlib

import pytest

from shot_strategies import make_art, png_chunk
from underglass.image.art_size import ArtFile, read_art
from underglass.shot import Place, ShotError
from underglass.shot.files import read_shot

SIGNATURE = b"\x89PNG\r\n\x1a\n"


def png_bytes(width=7, height=5, *, colour=6, before=b"", picture=True) -> bytes:
    header = struct.pack(">IIBBBBB", width, height, 8, colour, 0, 0, 0)
    data = png_chunk(b"IDAT", zlib.compress(b"\0" * 64)) if picture else b""
    return SIGNATURE + png_chunk(b"IHDR", header) + before + data + png_chunk(b"IEND", b"")


def tiff_bytes(width=7, height=5, *, order="<", extra=(2,), big=False, samples=4, colours=2) -> bytes:
    """Return a TIFF of one strip; its picture is zeros."""
    word = "Q" if big else "I"
    picture = bytes(width * height * samples)
    start = 16 if big else 8
    values = {256: width, 257: height, 262: colours, 273: start, 277: samples, 279: len(picture)}
    entries = [(tag, 4, 1, struct.pack(f"{order}I", value)) for tag, value in values.items()]
    if extra:
        entries.append((338, 3, len(extra), struct.pack(f"{order}{len(extra)}H", *extra)))
    size = struct.calcsize(word)
    directory = struct.pack(f"{order}{'Q' if big else 'H'}", len(entries))
    for tag, kind, count, data in entries:
        directory += struct.pack(f"{order}HH{word}", tag, kind, count) + data.ljust(size, b"\0")
    directory += struct.pack(f"{order}{word}", 0)
    mark = b"II" if order == "<" else b"MM"
    head = mark + (struct.pack(f"{order}HHHQ", 43, 8, 0, 0) if big else struct.pack(f"{order}HI", 42, 0))
    head = head[: start - size] + struct.pack(f"{order}{word}", start + len(picture))
    return head + picture + directory


def exr_bytes(width=7, height=5, *, channels=(b"A", b"B", b"G", b"R"), window=None, flags=0) -> bytes:
    """Return an EXR of half floats, uncompressed; its picture is zeros."""

    def attribute(name: bytes, kind: bytes, data: bytes) -> bytes:
        return name + b"\0" + kind + b"\0" + struct.pack("<I", len(data)) + data

    listed = b"".join(name + b"\0" + struct.pack("<IIII", 1, 0, 1, 1) for name in channels) + b"\0"
    display = struct.pack("<iiii", 0, 0, width - 1, height - 1)
    data_window = struct.pack("<iiii", *window) if window else display
    head = struct.pack("<II", 0x01312F76, 2 | flags)
    head += attribute(b"channels", b"chlist", listed) + attribute(b"compression", b"compression", b"\0")
    head += attribute(b"dataWindow", b"box2i", data_window) + attribute(b"displayWindow", b"box2i", display) + b"\0"
    line = bytes(width * 2 * len(channels))
    first = len(head) + 8 * height
    table = b"".join(struct.pack("<Q", first + y * (8 + len(line))) for y in range(height))
    return head + table + b"".join(struct.pack("<iI", y, len(line)) + line for y in range(height))


def measure(tmp_path, name: str, data: bytes) -> ArtFile:
    path = tmp_path / name
    path.write_bytes(data)
    return read_art(path, said=Place(tmp_path / "shot.toml", 7, "level.reeds.art"))


GOOD = [
    ("rgba.png", png_bytes(), True),
    ("rgb.png", png_bytes(colour=2), False),
    ("grey.png", png_bytes(colour=0), False),
    ("grey and alpha.png", png_bytes(colour=4), True),
    ("palette.png", png_bytes(colour=3, before=png_chunk(b"PLTE", b"\0\0\0")), False),
    ("clear palette.PNG", png_bytes(colour=3, before=png_chunk(b"PLTE", b"\0\0\0") + png_chunk(b"tRNS", b"\0")), True),
    ("text first.png", png_bytes(before=png_chunk(b"tEXt", b"x" * 5000)), True),
    ("little.tif", tiff_bytes(), True),
    ("big endian.TIFF", tiff_bytes(order=">"), True),
    ("big.tif", tiff_bytes(big=True), True),
    ("big, big endian.tif", tiff_bytes(big=True, order=">"), True),
    ("multiplied.tif", tiff_bytes(extra=(1,)), True),
    ("many extras.tif", tiff_bytes(extra=(0, 2), samples=5), True),
    ("fourth of rgb.tif", tiff_bytes(extra=()), True),
    ("cmyk.tif", tiff_bytes(extra=(), colours=5), False),
    ("rgb.tif", tiff_bytes(extra=(), samples=3), False),
    ("rgba.exr", exr_bytes(), True),
    ("rgb.exr", exr_bytes(channels=(b"B", b"G", b"R")), False),
    ("layer.exr", exr_bytes(channels=(b"ViewLayer.Combined.A", b"ViewLayer.Combined.R")), True),
    ("no layer.exr", exr_bytes(channels=(b"A.R", b"AA")), False),
]


@pytest.mark.parametrize(("name", "data", "alpha"), GOOD, ids=[row[0] for row in GOOD])
def test_size_and_alpha_come_from_the_header(tmp_path, name, data, alpha):
    premultiplied = name.endswith(".exr") or name == "multiplied.tif"
    assert measure(tmp_path, name, data) == ArtFile(7, 5, alpha, premultiplied)


@pytest.mark.parametrize("name", ["text first.png", "little.tif", "big, big endian.tif", "rgba.exr"])
def test_a_file_cut_anywhere_is_found_out(tmp_path, name):
    data = next(row[1] for row in GOOD if row[0] == name)
    step = 1 if len(data) < 2000 else 37
    for length in range(0, len(data), step):
        with pytest.raises(ShotError, match=r"shot.toml:7: level.reeds.art: "):
            measure(tmp_path, name, data[:length])


def test_a_damaged_file_is_always_read_or_refused(tmp_path):
    for name in ("rgba.png", "little.tif", "big.tif", "rgba.exr"):
        data = next(row[1] for row in GOOD if row[0] == name)
        for at in range(min(len(data), 400)):
            for value in (0, 0x7F, 0xFF):
                damaged = data[:at] + bytes([value]) + data[at + 1 :]
                try:
                    measure(tmp_path, name, damaged)
                except ShotError:
                    continue


WRONG_CHECKSUM = bytearray(png_bytes())
WRONG_CHECKSUM[19] ^= 1
BAD = [
    ("none.png", b"", "is empty (0 bytes)", "save the art again"),
    ("text.png", b"not an image at all", "is not an image", "save it as PNG, TIFF or EXR"),
    ("lying.png", tiff_bytes(), "is a TIFF image with a name that ends in .png", "name it for what it is"),
    ("lying.exr", png_bytes(), "is a PNG image with a name that ends in .exr", "name it for what it is"),
    ("photo.png", b"\xff\xd8\xff\xe0" + bytes(99), "is a JPEG file", "save it as PNG, TIFF or EXR"),
    ("layers.psd", b"8BPS" + bytes(99), "does not end in .png, .tif, .tiff or .exr", "save it as PNG"),
    ("crc.png", bytes(WRONG_CHECKSUM), "checksum of IHDR is wrong", "copy it again"),
    ("ihdr.png", SIGNATURE + png_chunk(b"IDAT", b"") + png_bytes()[8:], "IHDR does not come first", "save it again"),
    ("hollow.png", png_bytes(picture=False), "no picture in it (no IDAT)", "save it again"),
    ("cut.png", png_bytes()[:-12], "is cut short", "copy it again"),
    ("zero.png", png_bytes(0, 5), "is 0×5 px", "save the art again"),
    ("wide.png", png_bytes(32_769, 5), "is 32769×5 px", "32768 px a side and 400 million px"),
    ("large.png", png_bytes(30_000, 30_000), "is 30000×30000 px", "400 million px"),
    ("cropped.exr", exr_bytes(window=(1, 0, 6, 4)), "differs from its display window", "uncropped"),
    ("deep.exr", exr_bytes(flags=0x800), "is a deep image", "flat"),
    ("beyond.tif", tiff_bytes()[:8] + tiff_bytes()[-40:], "is cut short", "copy it again"),
    ("sizeless.tif", b"II*\0\x08\0\0\0\0\0\0\0\0\0", "does not say its size", "save it again"),
]


@pytest.mark.parametrize(("name", "data", "problem", "remedy"), BAD, ids=[row[0] for row in BAD])
def test_an_image_that_cannot_be_used_is_told_at_the_level_that_names_it(tmp_path, name, data, problem, remedy):
    with pytest.raises(ShotError) as caught:
        measure(tmp_path, name, data)
    assert (problem in caught.value.problem, remedy in caught.value.remedy) == (True, True), str(caught.value)
    assert str(caught.value).startswith(f"{tmp_path / 'shot.toml'}:7: level.reeds.art: '{name}' ")


def fault(folder) -> str:
    """Return what reading the shot says, without the path of the folder."""
    with pytest.raises(ShotError) as caught:
        read_shot(folder)
    assert "\n" not in str(caught.value)
    return str(caught.value).replace(f"{folder}{os.sep}", "")


def test_missing_art_is_told_at_its_line(lay_out):
    folder = lay_out()
    (folder / "art/reeds.png").unlink()
    assert fault(folder) == (
        "shot.toml:28: level.reeds.art: there is no file 'art/reeds.png'; put it there or correct the path"
    )


def test_art_that_is_a_folder_or_a_pipe_is_refused(lay_out):
    folder = lay_out()
    (folder / "art/reeds.png").unlink()
    (folder / "art/reeds.png").mkdir()
    assert "is a folder; name a file" in fault(folder)
    (folder / "art/reeds.png").rmdir()
    os.mkfifo(folder / "art/reeds.png")
    assert "is not an ordinary file" in fault(folder)


def test_a_level_without_alpha_would_hide_all_below_it(lay_out):
    folder = lay_out()
    make_art(folder, "art/reeds.png", 27, 10, alpha=False)
    assert fault(folder) == (
        "shot.toml:28: level.reeds.art: 'art/reeds.png' has no alpha channel, and would hide every level below it; "
        "save it with transparency (RGBA)"
    )


def test_the_rearmost_level_needs_no_alpha(lay_out):
    folder = lay_out()
    make_art(folder, "art/hills.png", 9, 9, alpha=False)
    assert read_shot(folder).levels[-1].art_px == (9, 9)


def test_drawings_of_a_level_are_one_size(lay_out):
    folder = lay_out()
    make_art(folder, "cels/heron_b.png", 18, 13)
    assert fault(folder) == (
        "shot.toml:36: level.heron.art: cels/heron_b.png is 18×13 px, and cels/heron_a.png is 18×12 px; "
        "make all drawings of a level one size"
    )


def test_a_drawing_that_is_shown_must_be_there(lay_out):
    folder = lay_out()
    (folder / "cels/heron_b.png").unlink()
    assert "shot.toml:36: level.heron.art: there is no file 'cels/heron_b.png'" in fault(folder)


def test_one_drawing_without_alpha_is_enough_to_hide_the_levels_below(lay_out):
    folder = lay_out()
    make_art(folder, "cels/heron_b.png", 18, 12, alpha=False)
    assert "level.heron.art: 'cels/heron_{drawing}.png' has no alpha channel" in fault(folder)


def test_a_run_of_drawings_of_which_none_is_shown_is_an_error(lay_out):
    assert "no drawing of 'heron' is ever shown" in fault(lay_out(drawings="frame,heron\n1,-\n"))


def test_a_drawing_cannot_lead_out_of_the_shots_folder(lay_out):
    folder = lay_out(drawings="frame,heron\n1,/../../x\n")
    assert "level.heron.art: 'cels/heron_/../../x.png' leaves the shot's folder" in fault(folder)
