# SPDX-License-Identifier: GPL-3.0-or-later
"""Ways to spoil a good file: bits, cuts and splices of any bytes, and of each format the places that readers trust.

Every function takes a random generator and the bytes of a good file and of others like it, and returns a spoilt one.
"""

import io
import json
import random
import re
import struct
import zipfile
import zlib
from collections.abc import Callable, Sequence
from typing import Any

Mutation = Callable[[random.Random, bytes, Sequence[bytes]], bytes]

EXTREMES = (0, 1, 2, 7, 127, 128, 255, 256, 32767, 32768, 65535, 65536, 2**24, 2**30, 2**31 - 1, 2**31, 2**32 - 1)
# What tends to break readers of text: signs of every format, blanks of every kind, huge and odd numbers, long lines.
PIECES: tuple[str, ...] = (
    *"[]{}\"'#=,.;:\\\n\r\t\0 -+@<>&%$|\x1b\x07\x7f\x85\u2028\ufeff\u202e\u200dé١²😀",
    *("[[", "]]", '"""', "'''", "..", "../../x", "\\ud800", "\\U0010ffff", "\\u0000", "{drawing}", "{{", "}}", "[]"),
    *("camera", "reeds", "level", "true", "false", "null", "1979-05-27", "12:00:00", "0x1f", "1_0", "-0", "-1", "+1"),
    *("nan", "inf", "-inf", "1e999", "1e-999", "1e308", "9" * 400, "9" * 5000, "0x" + "f" * 4000, "[" * 3000),
    *("x" * 70000, '"' + "y" * 300 + '"', "=cmd|' /C calc'!A0", "<script>", "]]>", "$(touch x)", "a." * 500, "0" * 30),
)


def bytes_changed(rng: random.Random, data: bytes, others: Sequence[bytes]) -> bytes:
    """Return ``data`` with one to four places changed as no format knows of."""
    for _ in range(rng.randint(1, 4)):
        data = rng.choice(_BLIND)(rng, data, others)
    return data


def _flip(rng: random.Random, data: bytes, others: Sequence[bytes]) -> bytes:
    changed = bytearray(data or b"\0")
    for _ in range(rng.choice((1, 1, 2, 8, 64))):
        changed[_place(rng, changed)] ^= 1 << rng.randrange(8)
    return bytes(changed)


def _cut(rng: random.Random, data: bytes, others: Sequence[bytes]) -> bytes:
    return data[: _place(rng, data)]


def _take_out(rng: random.Random, data: bytes, others: Sequence[bytes]) -> bytes:
    at = _place(rng, data)
    return data[:at] + data[at + rng.choice((1, 2, 4, 16, 256)) :]


def _repeat(rng: random.Random, data: bytes, others: Sequence[bytes]) -> bytes:
    at = _place(rng, data)
    return data[:at] + data[at : at + rng.choice((1, 4, 30, 500))] * rng.choice((2, 3, 50)) + data[at:]


def _number(rng: random.Random, data: bytes, others: Sequence[bytes]) -> bytes:
    form = rng.choice(("<I", ">I", "<H", ">H", "<Q", ">Q", "B"))
    value = extreme(rng, form)
    if rng.random() < 0.2:
        value = (1 << 8 * struct.calcsize(form)) - 1 - value
    at = _place(rng, data)
    return data[:at] + struct.pack(form, value) + data[at + struct.calcsize(form) :]


def _splice(rng: random.Random, data: bytes, others: Sequence[bytes]) -> bytes:
    other = rng.choice(others)
    return data[: _place(rng, data)] + other[_place(rng, other) :]


def _scatter(rng: random.Random, data: bytes, others: Sequence[bytes]) -> bytes:
    at = _place(rng, data)
    return data[:at] + rng.randbytes(rng.choice((1, 4, 40))) + data[at:]


_BLIND: tuple[Mutation, ...] = (_flip, _flip, _cut, _take_out, _repeat, _number, _number, _number, _splice, _scatter)


def extreme(rng: random.Random, form: str) -> int:
    """Return a number at the edge of what the struct ``form`` without a sign can hold."""
    return rng.choice(EXTREMES) % (1 << 8 * struct.calcsize(form))


def _place(rng: random.Random, data: bytes | bytearray) -> int:
    """Return a place in ``data``, every second time in its first bytes: there headers lie."""
    end = max(1, len(data))
    return rng.randrange(min(end, 200)) if rng.random() < 0.5 else rng.randrange(end)


# -- text --------------------------------------------------------------------------------------------------------------


def text_changed(rng: random.Random, data: bytes, others: Sequence[bytes]) -> bytes:
    """Return a text with values, lines or pieces of it changed."""
    if rng.random() < 0.15:
        return bytes_changed(rng, data, others)
    text = data.decode("utf-8", "surrogateescape")
    for _ in range(rng.randint(1, 3)):
        text = rng.choice((_value, _value, _value, _line, _piece))(rng, text)
    return text.encode("utf-8", "surrogatepass")[: 2**20]


def _value(rng: random.Random, text: str) -> str:
    """Put something else in the place of a value, a cell or a key."""
    spans = [match.span() for match in re.finditer(r"[^\s,=\[\]]+", text[:20_000])]
    piece = rng.choice(PIECES)
    if not spans:
        return piece
    start, end = rng.choice(spans)
    return text[:start] + rng.choice((piece, f'"{piece}"', piece * 2)) + text[end:]


def _line(rng: random.Random, text: str) -> str:
    lines = text.split("\n")
    at, other = rng.randrange(len(lines)), rng.randrange(len(lines))
    match rng.randrange(4):
        case 0:
            del lines[at]
        case 1:
            lines.insert(other, lines[at])
        case 2:
            lines[at], lines[other] = lines[other], lines[at]
        case _:
            lines[at : at + 1] = [lines[at]] * rng.choice((2, 20, 400))
    return "\n".join(lines)


def _piece(rng: random.Random, text: str) -> str:
    at = rng.randint(0, len(text))
    return text[:at] + rng.choice(PIECES) + text[at + rng.randint(0, 6) :]


# -- JSON --------------------------------------------------------------------------------------------------------------

ODD_VALUES: tuple[Any, ...] = (
    *(None, True, False, 0, -1, 2**63, 10**400, 1e308, float("nan"), float("inf"), -0.5, "", "x", "../../x", "a\0b"),
    *([], {}, [[]], [None], {"": {}}, ["x"] * 1000, "\ud800", "9" * 5000, [[1.0, 2.0]] * 4),
)


def json_changed(rng: random.Random, data: bytes, others: Sequence[bytes]) -> bytes:
    """Return a JSON document with one to three values of another kind, keys that are missing, or other bytes."""
    chance = rng.random()
    if chance < 0.2:
        return bytes_changed(rng, data, others)
    if chance < 0.23:
        return rng.choice((b"[" * 100_000, b'{"a":' * 50_000, b"9" * 100_000, b""))
    record = json.loads(data)
    for _ in range(rng.randint(1, 3)):
        record = value_changed(rng, record)
    return json.dumps(record).encode()


def value_changed(rng: random.Random, value: Any) -> Any:
    """Return a tree of plain values with one place in it changed."""
    if rng.random() < 0.1 or not isinstance(value, dict | list) or not value:
        return rng.choice(ODD_VALUES)
    if isinstance(value, dict):
        key = rng.choice(list(value))
        chance = rng.random()
        if chance < 0.1:
            return {name: item for name, item in value.items() if name != key}
        if chance < 0.2:
            return value | {rng.choice(("x", "../x", "", "\0")): value[key]}
        return value | {key: value_changed(rng, value[key])}
    at = rng.randrange(len(value))
    return [*value[:at], value_changed(rng, value[at]), *value[at + rng.randint(0, 1) :]]


# -- PNG ---------------------------------------------------------------------------------------------------------------

_CHUNKS = (b"IEND", b"tRNS", b"PLTE", b"IDAT", b"\0\0\0\0", b"zTXt", b"iCCP", b"acTL")


def png_changed(rng: random.Random, data: bytes, others: Sequence[bytes]) -> bytes:
    """Return a PNG whose chunks are sound apart from one: its numbers, its name, its length or its place."""
    if rng.random() < 0.3 or len(data) < 60:
        return bytes_changed(rng, data, others)
    chunks = _png_chunks(data)
    at = rng.randrange(len(chunks))
    name, body = chunks[at]
    match rng.randrange(6):
        case 0 | 1:
            header = bytearray(chunks[0][1])
            field = rng.choice((0, 4))
            header[field : field + 4] = struct.pack(">I", rng.choice(EXTREMES))
            header[8:13] = rng.choice((bytes(header[8:13]), rng.randbytes(5), bytes((16, 6, 0, 0, 1))))
            chunks[0] = b"IHDR", bytes(header)
        case 2:
            chunks[at] = rng.choice(_CHUNKS), body
        case 3:
            chunks[at] = name, bytes_changed(rng, body, [body])
        case 4:
            chunks.insert(rng.randrange(len(chunks)), chunks[at])
        case _:
            bomb = _BOMBS[rng.randrange(2)]
            kind = rng.choice((b"IDAT", b"zTXt", b"iCCP", b"iTXt"))
            chunks.insert(1, (kind, bomb if kind == b"IDAT" else b"key\0\0" + bomb))
    wrong_length = rng.randrange(40)
    made = data[:8]
    for number, (kind, part) in enumerate(chunks):
        length = rng.choice(EXTREMES) if number == wrong_length else len(part)
        made += struct.pack(">I", length) + kind + part + struct.pack(">I", zlib.crc32(kind + part))
    return made


_BOMBS = zlib.compress(bytes(10**5), 9), zlib.compress(bytes(10**7), 9)


def _png_chunks(data: bytes) -> list[tuple[bytes, bytes]]:
    chunks, at = [], 8
    while at < len(data):
        (length,) = struct.unpack_from(">I", data, at)
        chunks.append((data[at + 4 : at + 8], data[at + 8 : at + 8 + length]))
        at += 12 + length
    return chunks


# -- OpenEXR -----------------------------------------------------------------------------------------------------------

_TRUSTED = {
    b"channels",
    b"compression",
    b"dataWindow",
    b"displayWindow",
    b"lineOrder",
    b"tiles",
    b"chunkCount",
    b"type",
}


def exr_changed(rng: random.Random, data: bytes, others: Sequence[bytes]) -> bytes:
    """Return an EXR file with a value of its header or its version changed, or any bytes."""
    if rng.random() < 0.3:
        return bytes_changed(rng, data, others)
    changed = bytearray(data)
    if rng.random() < 0.1:
        changed[4:8] = struct.pack("<I", rng.choice((0x2, 0x202, 0x802, 0x1002, 0x1202, 0x402, 3, 0xFFFFFFFF)))
        return bytes(changed)
    values = _exr_values(data)
    _, kind, at, size = rng.choice([value for value in values if value[0] in _TRUSTED])
    if kind == b"chlist" or size < 4 or rng.random() < 0.2:
        changed[at : at + size] = bytes_changed(rng, data[at : at + size], [data])
    else:
        number = rng.choice(EXTREMES)
        where = at + 4 * rng.randrange(size // 4)
        changed[where : where + 4] = struct.pack("<I", number)
    if rng.random() < 0.1:
        changed[at - 4 : at] = struct.pack("<I", rng.choice(EXTREMES))
    return bytes(changed)


def _exr_values(data: bytes) -> list[tuple[bytes, bytes, int, int]]:
    """Return name, kind, place and size of every value in the first header."""
    values, at = [], 8
    while data[at]:
        name, kind = data[at:].split(b"\0", 2)[:2]
        at += len(name) + len(kind) + 2
        (size,) = struct.unpack_from("<i", data, at)
        values.append((name, kind, at + 4, size))
        at += 4 + size
    return values


# -- zip and OpenRaster ------------------------------------------------------------------------------------------------

_ENTITIES = '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">' + "".join(
    f'<!ENTITY {chr(98 + n)} "{f"&{chr(97 + n)};" * 10}">' for n in range(9)
)
ODD_STACKS: tuple[bytes, ...] = (
    b"",
    b"<image/>",
    b"<stack>" * 20_000,
    (_ENTITIES + ']><image w="&j;" h="1"/>').encode(),
    b'<!DOCTYPE x SYSTEM "file:///etc/passwd"><image w="1" h="1"><stack/></image>',
    b"\xff\xfe<\0i\0m\0a\0g\0e\0/\0>\0",
    b'<?xml version="1.0" encoding="utf-7"?><image w="9" h="9"><stack/></image>',
    b'<image w="1e400" h="-5"><stack/></image>',
    b'<image w="9" h="9"><stack>' + b'<layer src="data/a.png"/>' * 3000 + b"</stack></image>",
    b'<image w="9" h="9">' + b"<stack>" * 60 + b"</stack>" * 60 + b"</image>",
)
ODD_NAMES = ("../../x.png", "/etc/passwd", "C:\\x.png", "data/../../x", "data\\a.png", "", "mimetype", "stack.xml")
_PACKINGS = (zipfile.ZIP_DEFLATED, zipfile.ZIP_STORED, zipfile.ZIP_BZIP2)


def ora_changed(rng: random.Random, data: bytes, others: Sequence[bytes]) -> bytes:
    """Return an OpenRaster file with one of its members changed, or the archive around them."""
    if rng.random() < 0.35:
        return zip_changed(rng, data, others)
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    names = list(members)
    name = rng.choice(("stack.xml", "stack.xml", *names))
    match rng.randrange(8):
        case 0:
            members["stack.xml"] = rng.choice(ODD_STACKS)
        case 1:
            members[name] = bytes(rng.choice((10**5, 6 * 10**6)))
        case 2:
            del members[name]
        case 3:
            odd = rng.choice(ODD_NAMES)
            members["stack.xml"] = members["stack.xml"].replace(b"data/a.png", odd.encode())
            members[odd] = members[names[-1]]
        case 4:
            members[names[-1]] = png_changed(rng, members[names[-1]], [members[names[-1]]])
        case _:
            members[name] = text_changed(rng, members[name], [members[name]])
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", rng.choice(_PACKINGS)) as archive:
        for each, content in members.items():
            archive.writestr(each or "empty", content)
    return made.getvalue()


def zip_changed(rng: random.Random, data: bytes, others: Sequence[bytes]) -> bytes:
    """Return a zip archive with numbers in its records changed: sizes, methods, flags, places."""
    if rng.random() < 0.3:
        return bytes_changed(rng, data, others)
    places = [match.start() for match in re.finditer(rb"PK(?:\x01\x02|\x03\x04|\x05\x06)", data)]
    changed = bytearray(data)
    for _ in range(rng.randint(1, 3)):
        at = rng.choice(places) + 4 + 2 * rng.randrange(21)
        form = rng.choice(("<H", "<I"))
        changed[at : at + struct.calcsize(form)] = struct.pack(form, extreme(rng, form))
    return bytes(changed)


# -- PSD ---------------------------------------------------------------------------------------------------------------

# Version, channels, height, width, depth and colours.
_PSD_HEADER = ((4, ">H"), (12, ">H"), (14, ">I"), (18, ">I"), (22, ">H"), (24, ">H"))


def psd_changed(rng: random.Random, data: bytes, others: Sequence[bytes]) -> bytes:
    """Return a PSD whose header, or a length or tag of whose sections, is changed."""
    if rng.random() < 0.3:
        return bytes_changed(rng, data, others)
    changed = bytearray(data)
    if rng.random() < 0.4:
        at, form = rng.choice(_PSD_HEADER)
        changed[at : at + struct.calcsize(form)] = struct.pack(form, extreme(rng, form))
        return bytes(changed)
    # Lengths lie behind signatures and before what they count.
    places = [match.start() for match in re.finditer(rb"8BIM|8B64|\0\0\0[\x01-\xff]", data)]
    for _ in range(rng.randint(1, 2)):
        at = rng.choice(places) + rng.choice((0, 0, 4, 8, 12))
        form = rng.choice((">I", ">H"))
        changed[at : at + struct.calcsize(form)] = struct.pack(form, extreme(rng, form))
    return bytes(changed)
