# SPDX-License-Identifier: GPL-3.0-or-later
"""A file of passes is read whole or refused in one line, whatever its bytes claim."""

import struct
import tracemalloc
import zlib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underglass.image.pass_file import PassFileError, read_pass_file
from underglass.optics.sample_grid import make_grid
from underglass.proof.measure.passes import PassFile, measure_frame, passes_of

WIDTH, HEIGHT = 5, 3
NONE, ZIPS = 0, 2
# A refusal has no need of more than this, however large the frame that a header claims.
REFUSAL_BYTES = 3_000_000


def attribute(name: str, kind: str, value: bytes) -> bytes:
    return name.encode() + b"\0" + kind.encode() + b"\0" + struct.pack("<i", len(value)) + value


def channel(name: str, *, kind: int = 2, sampling: int = 1) -> bytes:
    return name.encode() + b"\0" + struct.pack("<4i", kind, 0, sampling, sampling)


def exr(
    *,
    version: int = 2,
    channels: bytes = channel("R"),
    compression: int = NONE,
    window: tuple[int, int, int, int] = (0, 0, WIDTH - 1, HEIGHT - 1),
    lines: list[tuple[int, bytes]] | None = None,
) -> bytes:
    """Return an EXR file as its published layout has it; without ``lines`` row r holds the numbers 10·r + column."""
    if lines is None:
        lines = [(row, (10 * row + np.arange(WIDTH)).astype("<f4").tobytes()) for row in range(HEIGHT)]
    head = struct.pack("<iI", 20000630, version)
    head += attribute("channels", "chlist", channels + b"\0")
    head += attribute("compression", "compression", bytes([compression]))
    head += attribute("dataWindow", "box2i", struct.pack("<4i", *window)) + b"\0"
    table, body = b"", b""
    for row, data in lines:
        table += struct.pack("<Q", len(head) + 8 * len(lines) + len(body))
        body += struct.pack("<2i", row, len(data)) + data
    return head + table + body


def read(path: Path, data: bytes) -> dict[str, np.ndarray]:
    path.write_bytes(data)
    return read_pass_file(path)


def refusal(path: Path, data: bytes) -> str:
    with pytest.raises(PassFileError) as caught:
        read(path, data)
    text = str(caught.value)
    assert "\n" not in text
    assert text.startswith(str(path))
    return text


def test_a_file_laid_out_by_hand_is_read(tmp_path: Path) -> None:
    plane = read(tmp_path / "a.exr", exr())["R"]
    assert plane.tolist() == [[10 * row + column for column in range(WIDTH)] for row in range(HEIGHT)]


def test_a_line_packed_by_hand_is_unpacked(tmp_path: Path) -> None:
    # 1.0 is 00 00 80 3f. Every other byte first: eight times 00 80, then eight times 00 3f; of these the steps + 128.
    steps = [*[0x00, 0x00] * 8, 0x00, 0xBF, *[0x41, 0xBF] * 7]
    lines = [(0, zlib.compress(bytes(steps)))]
    assert len(lines[0][1]) < 8 * 4
    plane = read(tmp_path / "a.exr", exr(compression=ZIPS, window=(0, 0, 7, 0), lines=lines))["R"]
    assert plane.tolist() == [[1.0] * 8]


def zipped(count: int) -> bytes:
    return zlib.compress(bytes(count))


WRONG = {
    "nothing": (b"", "begin"),
    "a picture of another kind": (b"\x89PNG\r\n\x1a\n" + bytes(100), "begin"),
    "a later version": (exr(version=3), "version"),
    "deep pixels": (exr(version=2 | 1 << 11), "deep"),
    "no channels": (exr(channels=b""), "channels"),
    "a channel twice": (exr(channels=channel("R") * 2), "channels"),
    "a channel of half the pixels": (exr(channels=channel("R", sampling=2)), "leaves out"),
    "a channel whose name steers a terminal": (exr(channels=channel("\x1b[2J", kind=0)), "'\\x1b[2J' holds"),
    "a list of channels that ends early": (exr(channels=b"R\0\2\0"), "channels"),
    "a data window inside out": (exr(window=(5, 0, 0, 2)), "data window"),
    "a frame that is endless": (exr(window=(-(2**31), -(2**31), 2**31 - 1, 2**31 - 1)), "cut short"),
    "a line that is endless": (exr(window=(0, 0, 2**31 - 2, HEIGHT - 1)), "size"),
    "a line of zeros that is endless": (
        exr(compression=ZIPS, window=(0, 0, 2**28, 0), lines=[(0, zipped(2**20))]),
        "size",
    ),
    "a line that lies outside": (exr(lines=[(row + 1, bytes(4 * WIDTH)) for row in range(HEIGHT)]), "not there"),
    "a line twice": (exr(lines=[(0, bytes(4 * WIDTH))] * HEIGHT), "not there"),
    "a line that is too long": (exr(lines=[(row, bytes(4 * WIDTH + 4)) for row in range(HEIGHT)]), "size"),
    "more in a line than it holds": (
        exr(compression=ZIPS, window=(0, 0, 63, 0), lines=[(0, zipped(100_000)[:200])]),
        "damaged",
    ),
    "less in a line than it holds": (exr(compression=ZIPS, window=(0, 0, 63, 0), lines=[(0, zipped(99))]), "damaged"),
    "what was never packed": (exr(compression=ZIPS, window=(0, 0, 63, 0), lines=[(0, b"\7" * 99)]), "damaged"),
}


@pytest.mark.parametrize(("data", "words"), WRONG.values(), ids=WRONG.keys())
def test_what_is_no_sound_file_is_refused_in_one_line_and_little_memory(
    data: bytes, words: str, tmp_path: Path
) -> None:
    tracemalloc.start()
    try:
        assert words in refusal(tmp_path / "a.exr", data)
        assert tracemalloc.get_traced_memory()[1] < REFUSAL_BYTES
    finally:
        tracemalloc.stop()


def test_a_file_that_is_cut_anywhere_is_refused(tmp_path: Path) -> None:
    whole = exr()
    for length in range(len(whole)):
        refusal(tmp_path / "a.exr", whole[:length])


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(PassFileError, match=r"gone\.exr: cannot be read \(No such file"):
        read_pass_file(tmp_path / "gone.exr")


@given(
    hits=st.lists(st.tuples(st.integers(0, 10_000), st.integers(0, 255)), min_size=1, max_size=6),
    packed=st.booleans(),
)
def test_damaged_bytes_give_an_image_or_one_line(
    hits: list[tuple[int, int]], packed: bool, tmp_path_factory: pytest.TempPathFactory
) -> None:
    data = bytearray(exr(compression=ZIPS, window=(0, 0, 63, 0), lines=[(0, zipped(256))]) if packed else exr())
    for place, value in hits:
        data[place % len(data)] = value
    path = tmp_path_factory.getbasetemp() / "damaged.exr"
    path.write_bytes(data)
    try:
        planes, said = read_pass_file(path), ""
    except PassFileError as error:
        planes, said = {}, str(error)
    assert "\n" not in said
    assert bool(planes) != bool(said)
    assert all(plane.ndim == 2 and plane.dtype == np.float32 for plane in planes.values())


def test_a_pass_that_is_not_in_the_file_is_named(tmp_path: Path) -> None:
    plane = np.zeros((2, 2), dtype=np.float32)
    channels = {f"ViewLayer.level0.{letter}": plane for letter in "RGBA"} | {"ViewLayer.level1.R": plane}
    assert set(passes_of(channels, names=["level0"], file=tmp_path)) == {"level0"}
    for name in ("level1", "level2"):
        with pytest.raises(PassFileError, match=f"holds no pass {name}"):
            passes_of(channels, names=[name], file=tmp_path)


def test_a_file_is_measured_and_then_gone(tmp_path: Path) -> None:
    # art of 40 × 30 px in the middle of a frame of 64 × 48 px
    x, y = np.arange(64) + 0.5 - 32, 24 - (np.arange(48) + 0.5)
    u, v = np.meshgrid(x / 40 + 0.5, y / 30 + 0.5)
    hit = ((abs(u - 0.5) < 0.5) & (abs(v - 0.5) < 0.5)).astype(float)
    # channels come in the order of their names
    rows = [np.stack([hit[row], v[row], u[row]]).astype("<f4").tobytes() for row in range(48)]
    data = exr(
        channels=b"".join(channel(f"ViewLayer.level0.{letter}") for letter in "BGR"),
        window=(0, 0, 63, 47),
        lines=list(enumerate(rows)),
    )
    path = tmp_path / "uv.exr"
    path.write_bytes(data)
    seen = measure_frame([PassFile(1, path, ("level0",), make_grid((64, 48), step=1), None)])
    fit = seen.fits[0]
    assert (seen.lattice.spacing, seen.lattice.columns, seen.lattice.rows) == (1.0, 64, 48)
    assert fit is not None
    assert fit.corners == pytest.approx(np.array([(-20, -15), (20, -15), (20, 15), (-20, 15)]), abs=1e-4)
    assert not path.exists()
