# SPDX-License-Identifier: GPL-3.0-or-later
"""Forms of a file by which no frame can be judged, in words: deep pixels, no file at all, pixels left out."""

from dataclasses import dataclass

from underglass.proof.wording import plain


@dataclass(frozen=True)
class Refusal:
    """Why a file cannot be judged, and what would be right: the words after "frame 7", and those after "frames 7-9".

    Those of one ``kind`` are one fault.
    """

    kind: str
    one: str
    many: str


@dataclass(frozen=True)
class Crop:
    """What a file leaves out of its frame.

    ``window`` is (left, top, right, bottom) px of what it holds, the last ones in it, counted from the frame's upper
    left; ``missing`` px of the frame at left, top, right and bottom; ``channels`` names those it is so of.
    """

    window: tuple[int, int, int, int]
    missing: tuple[int, int, int, int]
    channels: tuple[str, ...] = ()


DEEP = Refusal(
    "deep",
    "has deep pixels, which cannot be judged; deliver it flat",
    "have deep pixels, which cannot be judged; deliver them flat",
)
CHROMA = Refusal(
    "chroma",
    "holds luminance and chroma, which cannot be judged; deliver it as red, green and blue",
    "hold luminance and chroma, which cannot be judged; deliver them as red, green and blue",
)
FEWER_SAMPLES = Refusal(
    "fewer samples",
    "has fewer samples than pixels in every channel, which cannot be judged; deliver it in full",
    "have fewer samples than pixels in every channel, which cannot be judged; deliver them in full",
)
EMPTY_LINK = Refusal(
    "empty link",
    "is a link to a file that is not there; deliver the file itself",
    "are links to files that are not there; deliver the files themselves",
)
FOLDER = Refusal("folder", "is a folder; deliver it as an EXR file", "are folders; deliver them as EXR files")
NO_FILE = Refusal(
    "no file", "is a device, not a file; deliver it as an EXR file", "are devices, not files; deliver them as EXR files"
)
NO_MEMORY = Refusal(
    "no memory",
    "needs more memory than is free; deliver it smaller, or judge with fewer --threads",
    "need more memory than is free; deliver them smaller, or judge with fewer --threads",
)
_SIDES = ("left", "top", "right", "bottom")


def badly_named(name: str) -> Refusal:
    """Return the refusal of a file with a control character in its ``name``, such as a line end."""
    shown = plain(name)
    one = f"has control characters in its file name, {shown}; rename it"
    return Refusal("name", one, f"have control characters in their file names, such as {shown}; rename them")


def no_exr(what: str) -> Refusal:
    """Return the refusal of a file that is ``what``, such as “a PNG picture”, under the name of an EXR file."""
    return Refusal(
        f"no EXR: {what}",
        f"is no EXR file: by its contents it is {what}; deliver the EXR frame itself",
        f"are no EXR files: by its contents each is {what}; deliver the EXR frames themselves",
    )


def unreadable(reason: str) -> Refusal:
    """Return the refusal of a file that this machine does not let be read, for a ``reason`` in its words."""
    said = f"cannot be opened ({plain(reason)}); make"
    return Refusal(f"unreadable: {reason}", f"{said} it readable", f"{said} them readable")


def too_large(width: int, height: int, channels: int) -> Refusal:
    """Return the refusal of a file that has more pixels than this machine can hold."""
    said = f"{channels} channels of {width} × {height} px, more than this machine can hold; deliver"
    return Refusal("too large", f"has {said} it smaller", f"have {said} them smaller")


def unexpected(reason: str) -> Refusal:
    """Return the refusal of a file that the judging of it stumbled over."""
    said = plain(" ".join(reason.split()))[:160]
    return Refusal("unexpected", *(f"cannot be judged ({said}); render {it} again" for it in ("it", "them")))


def crop_of(size: tuple[int, int], *, left: int, top: int, held: tuple[int, int]) -> Crop | None:
    """Return what is missing of a frame of ``size``, or None: ``held`` px of it begin at ``left`` and ``top``."""
    (width, height), right, bottom = size, left + held[0], top + held[1]
    missing = (
        min(max(left, 0), width),
        min(max(top, 0), height),
        min(max(width - right, 0), width),
        min(max(height - bottom, 0), height),
    )
    return Crop((left, top, right - 1, bottom - 1), missing) if any(missing) else None


def crop_said(crop: Crop, size: tuple[int, int]) -> str:
    """Return what a crop leaves out of a frame of ``size``, as the end of a sentence that it lacks it."""
    sides = [f"{count} px at the {side}" for side, count in zip(_SIDES, crop.missing, strict=True) if count]
    left, top, right, bottom = crop.window
    more = f" and {len(crop.channels) - 1} more" if crop.channels[1:] else ""
    of = f" of {plain(crop.channels[0])}{more}" if crop.channels else ""
    return (
        f"{' and '.join(sides)}: the data window{of} is ({left}, {top}) to ({right}, {bottom}), the frame is (0, 0) to"
        f" ({size[0] - 1}, {size[1] - 1})"
    )
