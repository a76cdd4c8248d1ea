# SPDX-License-Identifier: GPL-3.0-or-later
"""Looking at one delivered frame: what its file says, whether its values are sound, and where its levels are."""

import contextlib
import os
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from underglass.image.frame_note import read_note
from underglass.proof.measure.measured_corners import Fit
from underglass.shot import UnderglassError

from ..exr.read_exr import ExrFile, FrameFileError, FrameRefusedError, OutOfMemoryError, read_exr
from ..exr.unreadable_forms import CHROMA, FEWER_SAMPLES, badly_named, unexpected
from .art.colour_samples import Sample, take_samples
from .asked_of_file import Asked, ByArt
from .files.channel_names import is_chroma, is_pass, lacks_of_picture, spelling_of, unknown_passes
from .files.channel_values import anything, checksums, has_bad_values, one_colour, some_rows
from .files.colours_said import unusual_colours
from .files.cryptomatte import object_mattes
from .files.file_contents import crop_in, passes_in, some_of
from .files.frame_numbers import without_controls
from .files.pass_fits import FEWEST_OF_MANY, LevelPass, are_shared, fit_delivered, has_many_samples, is_lossy
from .files.pass_steps import with_steps
from .judging.delivered_frame import CRYPTOMATTE, PASSES, PICTURE, DeliveredFrame
from .whole.filtered_passes import filtered

# A number of more digits is none of a frame, nor of samples.
_MOST_DIGITS = 18
# What OpenEXR's core library puts before its words.
_CODE = re.compile(r"\S*:? ?\(EXR_ERR_\w+\) ")


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


def look_at(path: Path, asked: Asked) -> Looked:
    """Return what one file holds; whatever is wrong with it is said in what is returned.

    Raises UnderglassError for art that cannot be read, and for too little memory, which is no fault of the file.
    """
    if is_badly_named(path.name):
        return _unjudged(DeliveredFrame(asked.frame, path.name, refusal=badly_named(path.name)))
    try:
        exr = read_exr(path, threads=0)
        return _looked_at(exr, path.name, asked)
    except FrameRefusedError as error:
        return _unjudged(DeliveredFrame(asked.frame, path.name, refusal=error.refusal))
    except FrameFileError as error:
        reason = str(error).removeprefix(f"{path}: ").removeprefix("cannot be read as EXR: ")
        return _unjudged(DeliveredFrame(asked.frame, path.name, damage=_short(reason, path)))
    except UnderglassError:
        raise
    except MemoryError:
        raise OutOfMemoryError(path) from None
    except Exception as error:  # whatever one file brings about, the others are to be judged
        reason = f"{type(error).__name__} {error}"
        return _unjudged(DeliveredFrame(asked.frame, path.name, refusal=unexpected(reason)))


def is_badly_named(name: str) -> bool:
    """Return whether a file's name has control characters, such as a line end, in it."""
    return without_controls(name) != name


def _unjudged(file: DeliveredFrame) -> Looked:
    return Looked(file, {}, "", False)


def _looked_at(exr: ExrFile, name: str, asked: Asked) -> Looked:
    """Return what a file that was read holds, see `look_at`."""
    pixels = {name: channel.pixels for name, channel in exr.channels.items()}
    spelling = spelling_of(pixels)
    passes = passes_in(exr, spelling)
    picture = list(spelling.picture)
    if not passes and not picture and exr.left_out:
        chroma = is_chroma([*pixels, *exr.left_out])
        if chroma or not pixels:
            return _unjudged(DeliveredFrame(asked.frame, name, refusal=CHROMA if chroma else FEWER_SAMPLES))
    engine = _engine(exr.texts, passes)
    black = bool(picture) and not any(anything(pixels[name]) for name in picture[:3])
    sums = checksums([pixels[name] for name in picture[:3]])
    if engine != "Cycles" and not black and not any(made.hit.any() for made in passes.values()):
        # With more passes than it can hold EEVEE leaves all of them empty: that says nothing of the levels.
        passes = {}
    judged_by = [name for name in pixels if is_pass(name)]
    lossy = sorted(
        {exr.channels[n].packing for n in judged_by if is_lossy(exr.channels[n].packing, exr.channels[n].pixels.dtype)}
    )
    file = DeliveredFrame(
        asked.frame,
        name,
        size=exr.size,
        note=read_note(exr.texts.get("Note", "")),
        said_frame=_number(exr.texts.get("Frame", "")),
        scene=exr.texts.get("Scene", ""),
        camera=exr.texts.get("Camera", ""),
        software=exr.texts.get("Software", ""),
        black=black,
        bad_values=tuple(name for name in sorted(pixels) if has_bad_values(pixels[name])),
        crop=crop_in(exr, [*judged_by, *picture] or list(pixels)),
        holds="" if passes else some_of([*pixels, *exr.left_out]),
        unknown=() if judged_by else unknown_passes([*pixels], spelling.picture),
        digest=sums and sums + checksums(some_rows([pixels[name] for name in sorted(judged_by)])),
        picture=sums,
        one_colour=() if black else one_colour([pixels[name] for name in picture[:3]]),
        other_colours=unusual_colours(exr.texts.get("colorInteropID", ""), exr.chromaticities),
        picture_lacks=lacks_of_picture([*pixels, *exr.left_out]),
        levels=tuple(sorted(passes)),
        evidence=PASSES if passes else "",
        lossy=lossy[0] if lossy else "",
    )
    shared = are_shared(passes)
    passes, steps = with_steps(passes)
    # EEVEE does not say how many samples there were; edges tell where there were three or more.
    many_by_edges = (shared or engine != "Cycles") and has_many_samples(passes)
    count = _samples(exr.texts) or (FEWEST_OF_MANY if shared and many_by_edges else 0)
    half = not shared and any(made.u.dtype == np.float16 for made in passes.values())
    file = replace(file, shared=shared, half=half, steps=steps)
    fits: dict[int, Fit | None] = {}
    sound = exr.size == asked.frame_px and not file.bad_values and file.crop is None
    if sound:
        fits = {
            level: fit_delivered(
                made, frame_px=asked.frame_px, margin_px=asked.margins_px.get(level, 0.0), samples=count
            )
            for level, made in passes.items()
        }
        file = replace(file, samples_unsaid=any(fit is not None and fit.unsaid_samples for fit in fits.values()))
    if (
        asked.as_whole is not None
        and passes
        and sound
        and file.said_frame in (None, asked.frame, asked.frame + asked.offset)
    ):
        file = replace(file, whole=asked.as_whole(asked.frame, passes, fits, lambda: whole_picture(exr, picture)))
    if asked.by_art is not None and sound and not passes and not file.black and not lossy:
        fits, evidence = _found_by_art(exr, picture, asked.by_art, asked.frame, asked.names)
        file = replace(file, levels=tuple(sorted(fits)), evidence=evidence if fits else "")
    if asked.find_gaps is not None and passes and sound and not black:
        file = replace(
            file, gaps=asked.find_gaps(asked.frame, passes, fits, [exr.channels[name] for name in picture[:3]])
        )
        if file.whole is None and any(not gap.only_picture for gap in file.gaps):
            # A filter leaves edges that no level and no art has.
            file = replace(file, whole=filtered(passes))
    many = engine == "Cycles" or many_by_edges
    unmeasured = {level for level in passes if level in fits and fits[level] is None}
    traced = {level for level in unmeasured if passes[level].hit.any()}
    untraced = unmeasured - traced
    shown = whole_picture(exr, picture) if asked.with_picture and exr.size == asked.frame_px else None
    samples = take_samples(exr, picture, passes, asked.pixels_of) if exr.size == asked.frame_px else {}
    return Looked(file, fits, engine, many, frozenset(untraced), frozenset(traced), shown, samples)


def _found_by_art(
    exr: ExrFile, picture: list[str], by_art: ByArt, frame: int, names: Sequence[str]
) -> tuple[dict[int, Fit | None], str]:
    """Return the fits that the art and the frame's mattes, or else its picture, come to, and which it was."""
    pixels = {name: channel.pixels for name, channel in exr.channels.items()}
    mattes = object_mattes(pixels, texts=exr.texts, names=names)
    if mattes is not None and mattes.shape[:2] == (exr.size[1], exr.size[0]):
        return dict(by_art(frame, mattes, True)), CRYPTOMATTE
    together = whole_picture(exr, picture)
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
    as_of_cycles = bool(passes) and not are_shared(passes)
    if as_of_cycles or any(key.startswith("cycles.") for key in texts):
        return "Cycles"
    return "EEVEE" if "Frame" in texts and "Camera" in texts else ""


def whole_picture(exr: ExrFile, picture: list[str]) -> NDArray[np.float32] | None:
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
