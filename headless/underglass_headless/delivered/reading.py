"""Looking at one delivered frame: what its file says, whether its values are sound, and where its levels are."""

import contextlib
import os
import re
import unicodedata
import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from underglass.proof.delivered_fits import (
    LevelPass,
    fit_delivered,
    has_many_samples,
    is_lossy,
)
from underglass.proof.deliveries import CRYPTOMATTE, PASSES, PICTURE, DeliveredFrame
from underglass.proof.file_forms import CHROMA, FEWER_SAMPLES, badly_named, unexpected
from underglass.proof.gaps import Gap
from underglass.proof.measure import Fit
from underglass.proof.whole_frame import WholeFrame
from underglass.shot import UnderglassError
from underglass.shot.frame_note import read_note

from ..proof.exr import Channel, ExrFile, FrameFileError, FrameRefusedError, read_exr
from .channel_names import is_chroma, is_pass, spelling_of
from .colour_samples import Sample, take_samples
from .contents import crop_in, passes_in, some_of
from .cryptomatte import object_mattes

# Finds levels on a frame by the art: in mattes (H, W, L) of each level, or else in the picture (H, W, 3).
ByArt = Callable[[int, NDArray[np.float32], bool], Mapping[int, Fit | None]]
# Finds what does not show as it should, by a frame's passes, its fits and the colours of its picture.
FindGaps = Callable[[int, Mapping[int, LevelPass], Mapping[int, Fit | None], Sequence[Channel]], tuple[Gap, ...]]
# Tells what a frame is as a whole by its passes and their fits; its picture (H, W, 4) is put together when asked for.
AsWhole = Callable[
    [int, Mapping[int, LevelPass], Mapping[int, Fit | None], Callable[[], NDArray[np.float32] | None]],
    WholeFrame | None,
]

# Of the coordinates of two renders of a move no row is the same; some rows are enough to tell by, and sooner done.
_ROWS_OF_PASSES = 64
# A number of more digits is none of a frame, nor of samples.
_MOST_DIGITS = 18
# What OpenEXR's core library puts before its words.
_CODE = re.compile(r"\S*:? ?\(EXR_ERR_\w+\) ")
# A half and a float as whole numbers: with a sign, without one, the bit of the sign, and the least that the other bits
# are where a value is infinite or NaN.
_BITS = {2: (np.int16, np.uint16, 0x8000, 0x7C00), 4: (np.int32, np.uint32, 0x80000000, 0x7F800000)}


@dataclass(frozen=True)
class Looked:
    """One frame that was looked at; ``fits`` by the level's number, None where too little of it shows.

    ``many`` tells whether its pixels certainly had more samples than one or two; ``untraced`` are levels whose pass is
    there and holds nothing at all, where every level that shows leaves a trace; ``traced`` those of which too few
    pixels are whole to measure them. ``samples`` are what the picture holds where a level, by its number, was to be
    looked at.
    """

    file: DeliveredFrame
    fits: Mapping[int, Fit | None]
    engine: str
    many: bool
    untraced: frozenset[int] = frozenset()
    traced: frozenset[int] = frozenset()
    picture: NDArray[np.float32] | None = None
    samples: Mapping[int, Sample] = field(default_factory=dict)


def look_at(
    path: Path,
    *,
    frame: int,
    frame_px: tuple[int, int],
    margins_px: Mapping[int, float],
    with_picture: bool = False,
    by_art: ByArt | None = None,
    find_gaps: FindGaps | None = None,
    names: Sequence[str] = (),
    pixels_of: Mapping[int, tuple[NDArray[np.int64], NDArray[np.int64]]] = {},
    as_whole: AsWhole | None = None,
) -> Looked:
    """Return what one file holds; whatever is wrong with it is said in what is returned.

    ``margins_px`` tells how far each level's edges may be blurred on this frame, by its number; with ``with_picture``
    the picture is kept, (H, W, 4). Where there are no proof passes ``by_art`` finds the levels, which go by ``names``;
    where there are, ``find_gaps`` finds where levels do not show as they should. ``pixels_of`` are rows and columns of
    the frame at which the picture of a level is kept, by its number. Raises UnderglassError for art that cannot be
    read, which is no fault of the file. ``as_whole`` tells what the frame is as a whole, if its levels are not where
    they should be.
    """
    if is_badly_named(path.name):
        return _unjudged(DeliveredFrame(frame, path.name, refusal=badly_named(path.name)))
    try:
        exr = read_exr(path, threads=0)
        return _looked_at(
            exr,
            path.name,
            frame=frame,
            frame_px=frame_px,
            margins_px=margins_px,
            with_picture=with_picture,
            by_art=by_art,
            find_gaps=find_gaps,
            names=names,
            pixels_of=pixels_of,
            as_whole=as_whole,
        )
    except FrameRefusedError as error:
        return _unjudged(DeliveredFrame(frame, path.name, refusal=error.refusal))
    except FrameFileError as error:
        reason = str(error).removeprefix(f"{path}: ").removeprefix("cannot be read as EXR: ")
        return _unjudged(DeliveredFrame(frame, path.name, damage=_short(reason, path)))
    except UnderglassError:
        raise
    except Exception as error:  # whatever one file brings about, the others are to be judged
        reason = f"{type(error).__name__} {error}"
        return _unjudged(DeliveredFrame(frame, path.name, refusal=unexpected(reason)))


def is_badly_named(name: str) -> bool:
    """Return whether a file's name has control characters, such as a line end, in it."""
    return any(unicodedata.category(character) == "Cc" for character in name)


def _unjudged(file: DeliveredFrame) -> Looked:
    return Looked(file, {}, "", False)


def _looked_at(
    exr: ExrFile,
    name: str,
    *,
    frame: int,
    frame_px: tuple[int, int],
    margins_px: Mapping[int, float],
    with_picture: bool,
    by_art: ByArt | None,
    find_gaps: FindGaps | None,
    names: Sequence[str],
    pixels_of: Mapping[int, tuple[NDArray[np.int64], NDArray[np.int64]]],
    as_whole: AsWhole | None,
) -> Looked:
    """Return what a file that was read holds, see `look_at`."""
    pixels = {name: channel.pixels for name, channel in exr.channels.items()}
    spelling = spelling_of(pixels)
    passes = passes_in(exr, spelling)
    picture = list(spelling.picture)
    if not passes and not picture and exr.left_out:
        chroma = is_chroma([*pixels, *exr.left_out])
        if chroma or not pixels:
            return _unjudged(DeliveredFrame(frame, name, refusal=CHROMA if chroma else FEWER_SAMPLES))
    engine = _engine(exr.texts, passes)
    black = bool(picture) and not any(_anything(pixels[name]) for name in picture[:3])
    checksums = _checksums([pixels[name] for name in picture[:3]])
    if engine != "Cycles" and not black and not any(made.hit.any() for made in passes.values()):
        # With more passes than it can hold EEVEE leaves all of them empty: that says nothing of the levels.
        passes = {}
    judged_by = [name for name in pixels if is_pass(name)]
    lossy = sorted(
        {exr.channels[n].packing for n in judged_by if is_lossy(exr.channels[n].packing, exr.channels[n].pixels.dtype)}
    )
    file = DeliveredFrame(
        frame,
        name,
        size=exr.size,
        note=read_note(exr.texts.get("Note", "")),
        said_frame=_number(exr.texts.get("Frame", "")),
        scene=exr.texts.get("Scene", ""),
        camera=exr.texts.get("Camera", ""),
        software=exr.texts.get("Software", ""),
        black=black,
        bad_values=tuple(name for name in sorted(pixels) if _has_bad_values(pixels[name])),
        crop=crop_in(exr, [*judged_by, *picture] or list(pixels)),
        holds="" if passes else some_of([*pixels, *exr.left_out]),
        digest=checksums and checksums + _checksums(_some_rows([pixels[name] for name in sorted(judged_by)])),
        picture=checksums,
        one_colour=() if black else _one_colour([pixels[name] for name in picture[:3]]),
        colour_space=exr.texts.get("colorInteropID", ""),
        levels=tuple(sorted(passes)),
        evidence=PASSES if passes else "",
        lossy=lossy[0] if lossy else "",
    )
    count = _samples(exr.texts)
    shared = any(made.fringes for made in passes.values())
    file = replace(file, shared=shared, samples_unsaid=bool(passes) and not shared and not count)
    fits: dict[int, Fit | None] = {}
    sound = exr.size == frame_px and not file.bad_values and file.crop is None
    if sound:
        fits = {
            level: fit_delivered(made, frame_px=frame_px, margin_px=margins_px.get(level, 0.0), samples=count)
            for level, made in passes.items()
        }
    if as_whole is not None and passes and sound and file.said_frame in (None, frame):
        file = replace(file, whole=as_whole(frame, passes, fits, lambda: _together(exr, picture)))
    if by_art is not None and sound and not passes and not file.black and not lossy:
        fits, evidence = _found_by_art(exr, picture, by_art, frame, names)
        file = replace(file, levels=tuple(sorted(fits)), evidence=evidence if fits else "")
    if find_gaps is not None and passes and sound and not black:
        file = replace(file, gaps=find_gaps(frame, passes, fits, [exr.channels[name] for name in picture[:3]]))
    many = engine == "Cycles" or has_many_samples(passes)
    unmeasured = {level for level in passes if level in fits and fits[level] is None}
    traced = {level for level in unmeasured if passes[level].hit.any()}
    # EEVEE writes nothing of what is nowhere opaque.
    untraced = unmeasured - traced if engine == "Cycles" else set()
    shown = _together(exr, picture) if with_picture and exr.size == frame_px else None
    samples = take_samples(exr, picture, passes, pixels_of) if exr.size == frame_px else {}
    return Looked(file, fits, engine, many, frozenset(untraced), frozenset(traced), shown, samples)


def _found_by_art(
    exr: ExrFile, picture: list[str], by_art: ByArt, frame: int, names: Sequence[str]
) -> tuple[dict[int, Fit | None], str]:
    """Return the fits that the art and the frame's mattes, or else its picture, come to, and which it was."""
    pixels = {name: channel.pixels for name, channel in exr.channels.items()}
    mattes = object_mattes(pixels, texts=exr.texts, names=names)
    if mattes is not None and mattes.shape[:2] == (exr.size[1], exr.size[0]):
        return dict(by_art(frame, mattes, True)), CRYPTOMATTE
    together = _together(exr, picture)
    if together is None:
        return {}, ""
    return dict(by_art(frame, together[..., :3], False)), PICTURE


def _samples(texts: Mapping[str, str]) -> int:
    """Return how many samples Cycles took in a pixel; 0 where the file does not say."""
    said = [value for key, value in texts.items() if key.startswith("cycles.") and key.endswith(".samples")]
    return next((number for number in map(_number, said) if number), 0)


def _engine(texts: Mapping[str, str], passes: Mapping[int, LevelPass]) -> str:
    """Return the engine: Cycles says how many samples it took, EEVEE nothing; empty where Blender did not write it.

    Passes tell too, where a copy has lost its texts: those of EEVEE alone have fringes.
    """
    as_of_cycles = bool(passes) and not any(made.fringes for made in passes.values())
    if as_of_cycles or any(key.startswith("cycles.") for key in texts):
        return "Cycles"
    return "EEVEE" if "Frame" in texts and "Camera" in texts else ""


def _together(exr: ExrFile, picture: list[str]) -> NDArray[np.float32] | None:
    """Return the picture as (H, W, 4) of the whole frame; what was not rendered of it is clear."""
    if not picture:
        return None
    width, height = exr.size
    whole = np.zeros((height, width, 4), dtype=np.float32)
    whole[..., 3] = 0.0 if len(picture) == 4 else 1.0
    for at, name in enumerate(picture):
        channel = exr.channels[name]
        left, top = min(max(0, channel.left), width), min(max(0, channel.top), height)
        rows, columns = slice(max(0, -channel.top), None), slice(max(0, -channel.left), None)
        part = channel.pixels[rows, columns][: height - top, : width - left]
        whole[top : top + part.shape[0], left : left + part.shape[1], at] = part
    return whole


def _has_bad_values(pixels: NDArray[Any]) -> bool:
    """Return whether any value is NaN or infinite. Of single floats a sum tells, unless it is too great itself."""
    if pixels.dtype.itemsize not in _BITS or pixels.dtype.kind != "f" or not pixels.size:
        return False
    if pixels.dtype.itemsize == 4:
        with np.errstate(over="ignore", invalid="ignore"):
            if np.isfinite(pixels.sum()):
                return False
    signed, unsigned, sign, least = _BITS[pixels.dtype.itemsize]
    pixels = np.ascontiguousarray(pixels)
    # As whole numbers with a sign the greatest is a positive one, without it a negative one.
    return bool(pixels.view(signed).max() >= least or pixels.view(unsigned).max() >= sign + least)


def _anything(pixels: NDArray[Any]) -> bool:
    """Return whether any pixel is not black."""
    return bool(np.ascontiguousarray(pixels).view(np.uint16).any() and pixels.any())


def _checksums(channels: Sequence[NDArray[Any]]) -> str:
    """Return what is the same for the same numbers, every byte of them; empty for no channels.

    Checksums of 32 bits, one a channel, take half as long as a cryptographic digest of all that.
    """
    return "".join(f"{zlib.crc32(np.ascontiguousarray(channel).data):08x}" for channel in channels)


def _some_rows(passes: Sequence[NDArray[Any]]) -> list[NDArray[Any]]:
    """Return some rows of the passes: where only a level that others cover moves, the picture stays and they do not."""
    return [channel[::_ROWS_OF_PASSES] for channel in passes]


def _one_colour(picture: Sequence[NDArray[Any]]) -> tuple[float, ...]:
    """Return the light of a picture that is one and the same all over; empty where it is not."""
    if not picture or not picture[0].size or not np.isfinite([channel.flat[0] for channel in picture]).all():
        return ()
    # A row tells of nearly every picture that it is not.
    if any((channel[0] != channel[0, 0]).any() for channel in picture):
        return ()
    if any((channel != channel[0, 0]).any() for channel in picture):
        return ()
    return tuple(float(channel[0, 0]) for channel in picture)


def _number(text: str) -> int | None:
    if len(text) > _MOST_DIGITS:
        return None
    try:
        return int(text)
    except ValueError:
        return None


def _short(reason: str, path: Path) -> str:
    with contextlib.suppress(OSError):  # it may be gone by now
        if not path.stat().st_size:
            return "it is empty (0 bytes)"
    if reason.startswith("Unable to open") and os.access(path, os.R_OK):
        return "its header is cut short or damaged"
    return _CODE.sub("", reason).replace(str(path), path.name)[:160]
