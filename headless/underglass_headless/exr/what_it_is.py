# SPDX-License-Identifier: GPL-3.0-or-later
"""What a file is that is no EXR file, by how it begins, whatever its name says: another kind of picture, a page, text.

The first bytes of each kind are those of its own specification, as `file` (magic(5)) lists them too.
"""

from pathlib import Path

# OpenEXR file layout, "Magic Number": 20000630 as a little-endian integer.
EXR_BEGINS = b"\x76\x2f\x31\x01"
# So many bytes tell.
_LOOKED_AT = 512
_BEGINNINGS = (
    (b"\x89PNG\r\n\x1a\n", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"II*\x00", "a TIFF picture"),
    (b"MM\x00*", "a TIFF picture"),
    (b"II+\x00", "a TIFF picture"),
    (b"MM\x00+", "a TIFF picture"),
    (b"SDPX", "a DPX picture"),
    (b"XPDS", "a DPX picture"),
    (b"8BPS", "a PSD picture"),
    (b"GIF8", "a GIF picture"),
    (b"#?RADIANCE", "a Radiance HDR picture"),
    (b"#?RGBE", "a Radiance HDR picture"),
    (b"\xff\x4f\xff\x51", "a JPEG 2000 picture"),
    (b"\x00\x00\x00\x0cjP  ", "a JPEG 2000 picture"),
    (b"BLENDER", "a Blender file"),
    (b"%PDF", "a PDF page"),
    (b"PK\x03\x04", "a ZIP archive"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"\x28\xb5\x2f\xfd", "a zstd archive"),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive"),
    (b"Rar!\x1a\x07", "a RAR archive"),
    (b"version https://git-lfs", "a pointer of Git LFS, and the frame itself was not fetched"),
)
_PAGES = (b"<!doctype html", b"<html", b"<head", b"<body", b"<!--")


def what_it_is(path: Path) -> str:
    """Return what a file is in a few words, such as “a PNG picture”; empty for an EXR file and for what is not known.

    An empty file, and one that cannot be read, is not known.
    """
    try:
        with path.open("rb") as file:
            begins = file.read(_LOOKED_AT)
    except OSError:
        return ""
    if not begins or begins.startswith(EXR_BEGINS[: len(begins)]):
        return ""
    if found := next((kind for magic, kind in _BEGINNINGS if begins.startswith(magic)), ""):
        return found
    if begins[4:8] == b"ftyp":
        return "a film or a picture in an MP4 or QuickTime container"
    if begins[:4] == b"RIFF" and begins[8:12] == b"WEBP":
        return "a WebP picture"
    text = _as_text(begins)
    if text.lower().startswith(tuple(page.decode() for page in _PAGES)):
        return "a web page"
    if text.startswith("<?xml"):
        return "an XML text"
    return "a text" if text else ""


def _as_text(begins: bytes) -> str:
    """Return the text that bytes hold, empty where they hold none."""
    try:
        # The last letter may be cut off.
        text = begins.decode("utf-8-sig", errors="ignore" if len(begins) == _LOOKED_AT else "strict")
        if len(begins) == _LOOKED_AT:
            begins[:-4].decode("utf-8-sig")
    except UnicodeDecodeError:
        return ""
    text = text.strip()
    return text if all(letter.isprintable() or letter.isspace() for letter in text) else ""
