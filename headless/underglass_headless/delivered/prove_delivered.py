# SPDX-License-Identifier: GPL-3.0-or-later
"""Proving delivered frames: found, looked at one by one on every core, and judged; nothing is rendered.

Memory is flat: of a frame only what was found in it is kept.
"""

import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import redirect_stdout, suppress
from dataclasses import dataclass, field, replace
from hashlib import sha256
from io import StringIO
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from underglass.image.art_digest import art_digests
from underglass.optics.depth_of_field import blur_circle
from underglass.plan import Plan, make_plan
from underglass.proof.choose_frames import choose_frames, frames_to_test
from underglass.proof.measure.measured_corners import Fit
from underglass.proof.proof_facts import Proof
from underglass.proof.tolerance import DEFAULT_TOLERANCE_PX
from underglass.proof.wording import plain
from underglass.shot.files import read_shot
from underglass.shot.files.shot_fingerprint import fingerprint

from ..exr.read_exr import FrameFileError, channel_names
from ..machine.cores_and_memory import core_count, peak_mb
from ..machine.freed_memory import keep_freed_memory
from ..machine.native_errors import without_native_errors
from ..telling.progress import Tell
from .art.art_shown import art_shown
from .art.sight_of_levels import Sight
from .files.channel_names import is_pass
from .files.find_frames import FrameSequence, find_sequences, strays_beside, the_one
from .files.pass_fits import SHARED_SHIFT_OF_FEW_PX, SHARED_SHIFT_PX, with_shared_shift
from .judging.delivered_frame import PASSES, DeliveredFrame
from .judging.delivered_verdict import Delivery, judge_delivered
from .look_at_frame import MOST_MARGIN_PX, looking
from .number_offset import better_offset, by_the_shots_numbers, of_interest
from .owner_of_picture import owner_of_picture
from .pictures_seen import PicturesSeen
from .read_frame import Looked, is_badly_named

Keep = Callable[[int, NDArray[np.float32]], Path]

MOST_TESTED = 12
# So many files are tried to learn whether a sequence has proof passes.
_MOST_HEADERS = 3
# Of paint with this alpha, or more, that shows in so many pixels, every engine leaves some.
OPAQUE, LEAST_OPAQUE_PX = 0.99, 64.0
ENGINES = {"Cycles": "CYCLES", "EEVEE": "EEVEE"}


@dataclass(frozen=True)
class DeliveredOptions:
    """How to prove delivered frames. ``frames`` empty means: the whole shot; ``threads`` 0 means every core.

    ``offset`` is how far the numbers of the files are above those of the shot's frames.
    ``part`` says that ``frames`` are a part of what will be there: what only the others can tell is left open.
    """

    place: Path
    frames: tuple[int, ...] = ()
    tolerance_px: float = DEFAULT_TOLERANCE_PX
    pictures: bool = True
    threads: int = 0
    offset: int = 0
    part: bool = False


@dataclass
class _Found:
    """What has been found in the frames so far."""

    files: list[DeliveredFrame] = field(default_factory=list)
    fits: dict[tuple[int, int], Fit | None] = field(default_factory=dict)
    expected: dict[tuple[int, int], float] = field(default_factory=dict)
    shown: dict[tuple[int, int], float] = field(default_factory=dict)
    drawn: dict[tuple[int, int], str] = field(default_factory=dict)
    something_seen: dict[int, bool] = field(default_factory=dict)
    untraced: set[tuple[int, int]] = field(default_factory=set)
    traced: set[tuple[int, int]] = field(default_factory=set)
    engines: dict[int, str] = field(default_factory=dict)
    many_samples: dict[int, bool] = field(default_factory=dict)
    pictures: dict[int, Path] = field(default_factory=dict)


def prove_delivered(shot_file: Path, *, options: DeliveredOptions, keep: Keep, tell: Tell) -> Proof:
    """Return the proof of the shot in ``shot_file`` that the delivered frames make.

    ``keep`` puts a picture (H, W, 4) of a frame into a file and returns that; ``tell`` hears (what, done, of). Raises
    ShotError, DeliveryError.
    """
    begun = time.monotonic()
    keep_freed_memory()
    plan = make_plan(read_shot(shot_file))
    wanted = _wanted(plan, options)
    sequences = find_sequences(options.place)
    frames = _chosen(sequences, options.place)
    files, beyond = of_interest(frames, wanted, plan=plan, offset=options.offset)
    planned = time.monotonic()
    found, sight, margins_px = _Found(), Sight(plan), _margins_px(plan)
    pictures = PicturesSeen(sight, margins_px)
    tested = _tested(plan, wanted)
    # Whoever names frames wants to know of each of them.
    by_art = wanted if options.frames and not options.part else tested
    look = looking(
        plan,
        margins_px=margins_px,
        by_art=by_art,
        pictured=tested if options.pictures else (),
        tolerance=options.tolerance_px,
        offset=options.offset,
    )
    said = sys.stdout
    # Of a damaged file OpenEXR prints warnings, some of them where results are printed; the proof says what is wrong.
    with redirect_stdout(StringIO()), without_native_errors():
        for done, looked in enumerate(_side_by_side(look, files, options.threads), start=1):
            _take(found, looked, sight, margins_px=margins_px, keep=keep)
            pictures.take(looked)
            with redirect_stdout(said):
                tell("looking at the frames", done, len(files))
    read = time.monotonic()
    _look_for_holds(found, sight)
    engines = Counter(found.engines.values())
    engine = engines.most_common(1)[0][0] if engines else ""
    numbered = by_the_shots_numbers(found.files, offset=options.offset)
    looks = pictures.found(numbered)
    owners = {alike: owner_of_picture(plan, alike, dict(files)) for alike in looks.repeated}
    looks = replace(looks, owners={alike: frame for alike, frame in owners.items() if frame is not None})
    delivery = Delivery(
        tuple(numbered),
        _with_shift(found),
        found.expected,
        found.shown,
        found.something_seen,
        untraced=frozenset(found.untraced),
        traced=frozenset(found.traced),
        named=_named(frames, options.offset),
        # Whoever names frames knows of the others.
        beyond=() if options.frames else tuple(beyond),
        drawn=found.drawn,
        strays=_strays(frames, sequences, wanted, options.offset),
        offset=options.offset,
        better_offset=better_offset(frames, wanted, plan=plan, offset=options.offset),
        looks=looks,
        engine=ENGINES.get(engine, ""),
        blender=next((f.software.removeprefix("Blender ") for f in found.files if f.software), ""),
    )
    seconds = {"plan": planned - begun, "read and measure": read - planned}
    proof = judge_delivered(
        plan,
        delivery,
        shot_file=shot_file,
        wanted=wanted,
        fingerprint=fingerprint(plan.shot),
        tolerance=options.tolerance_px,
        pictures=found.pictures,
        seconds=seconds,
        part=options.part,
        art=art_digests(plan.shot) if any(file.note and file.note.art for file in found.files) else (),
    )
    seconds["judge"] = time.monotonic() - read
    seconds["all"] = time.monotonic() - begun
    return replace(proof, peak_memory_mb=peak_mb())


def _with_shift(found: _Found) -> dict[tuple[int, int], Fit | None]:
    """Return the fits with the uncertainty in them of how the engine of their frame samples.

    A frame does not always tell whether it had few samples: what most of those tell that are not Cycles' counts.
    """
    others = [frame for frame in found.many_samples if found.engines.get(frame) != "Cycles"]
    most_many = 2 * sum(found.many_samples[frame] for frame in others) >= max(1, len(others))
    half_width = SHARED_SHIFT_PX if most_many else SHARED_SHIFT_OF_FEW_PX
    unknown = set(others)
    return {
        (frame, level): with_shared_shift(fit, half_width) if fit is not None and frame in unknown else fit
        for (frame, level), fit in found.fits.items()
    }


def _look_for_holds(found: _Found, sight: Sight) -> None:
    """Find out what shows on frames that are the very same picture: who moves behind others changes none."""
    alike = Counter(file.digest for file in found.files if file.digest)
    digests: dict[Path | None, str] = {}
    first, last = int(sight.plan.frames[0]), int(sight.plan.frames[-1])
    for file in found.files:
        if alike[file.digest] > 1 and first <= file.frame <= last:
            found.shown.update({(file.frame, level): share for level, share in sight.shown(file.frame).items()})
            for level in range(len(sight.plan.names)):
                # A drawing may lie there in two files.
                path = art_shown(sight.plan, file.frame - first, level)
                found.drawn[file.frame, level] = digests.get(path) or digests.setdefault(path, _digest(path))


def _digest(path: Path | None) -> str:
    """Return what is the same for files that hold the same; of one that cannot be read its name."""
    if path is None:
        return "none"
    try:
        return sha256(path.read_bytes()).hexdigest()
    except OSError:
        return str(path)


def _wanted(plan: Plan, options: DeliveredOptions) -> tuple[int, ...]:
    """Return the frames that have to be there; raises ShotError for one that is not in the shot."""
    if options.frames:
        return frames_to_test(plan, asked=options.frames)
    return tuple(plan.frames.tolist())


def _tested(plan: Plan, wanted: Sequence[int]) -> list[int]:
    """Return the frames whose picture is shown on the page, and that are looked into where there is nothing better."""
    chosen = [frame for frame in choose_frames(plan) if frame in wanted] or list(wanted)
    return [chosen[at] for at in np.unique(np.linspace(0, len(chosen) - 1, min(MOST_TESTED, len(chosen))).astype(int))]


def _chosen(sequences: list[FrameSequence], place: Path) -> FrameSequence:
    """Return the sequence to judge: the only one, or else the only one that carries proof passes."""
    if len(sequences) > 1:
        proving = [one for one in sequences if _carries_passes(one)]
        if len(proving) == 1:
            return proving[0]
    return the_one(sequences, place=place)


def _carries_passes(sequence: FrameSequence) -> bool:
    """Return whether the first file of a sequence whose header can be read has proof passes."""
    for _, path in sequence.files[:_MOST_HEADERS]:
        # A name that is refused is not to be printed by OpenEXR either.
        if not is_badly_named(path.name):
            with suppress(FrameFileError):
                return any(is_pass(name) for name in channel_names(path))
    # The newer take may be the one whose first frames are damaged: which is meant is then to be said.
    return True


def _strays(
    frames: FrameSequence, sequences: Sequence[FrameSequence], wanted: Sequence[int], offset: int
) -> tuple[tuple[int, str], ...]:
    """Return the files that are named nearly as the ``wanted`` frames are, by the shot's numbers."""
    beside = [(number - offset, name) for number, name in strays_beside(frames, sequences)]
    return tuple((frame, name) for frame, name in beside if frame in set(wanted))


def _named(frames: FrameSequence, offset: int) -> str:
    """Return the sequence with its frames, in letters that every file and terminal can hold."""
    return plain(f"{frames.named}{f' (the frames of the shot {offset:+d})' if offset else ''}")


def _side_by_side(
    look: Callable[[int, Path], Looked], files: Sequence[tuple[int, Path]], threads: int
) -> Iterator[Looked]:
    """Yield every file looked at, in order; OpenEXR and numpy let threads run side by side."""
    count = threads or core_count()
    waiting: list[Future[Looked]] = []
    # One thread of linear algebra each: more of them stand in one another's way, and add up in another order.
    with threadpool_limits(limits=1), ThreadPoolExecutor(max_workers=count) as pool:
        try:
            for frame, path in files:
                waiting.append(pool.submit(look, frame, path))
                if len(waiting) > count:
                    yield waiting.pop(0).result()
            while waiting:
                yield waiting.pop(0).result()
        finally:
            for future in waiting:
                future.cancel()


def _take(found: _Found, looked: Looked, sight: Sight, *, margins_px: NDArray[np.float64], keep: Keep) -> None:
    """Add what was found in one frame; ``margins_px`` (F, L) is how far edges are blurred."""
    plan = sight.plan
    file = looked.file
    found.files.append(file)
    untraced = looked.untraced
    if untraced and looked.engine != "Cycles":
        # EEVEE writes nothing of what is nowhere opaque.
        opaque, size = sight.shown(file.frame, least=OPAQUE), float(np.prod(plan.shot.camera.frame_px))
        untraced = frozenset(level for level in untraced if opaque.get(level, 0.0) * size >= LEAST_OPAQUE_PX)
    found.untraced.update((file.frame, level) for level in untraced)
    found.traced.update((file.frame, level) for level in looked.traced)
    if looked.engine:
        found.engines[file.frame] = looked.engine
    if file.black:
        found.something_seen[file.frame] = sight.is_anything_seen(file.frame)
    if looked.fits:
        found.many_samples[file.frame] = looked.many
    found.fits.update({(file.frame, level): fit for level, fit in looked.fits.items()})
    if file.evidence == PASSES:
        blur_px = float(margins_px[file.frame - int(plan.frames[0])].max())
        shares = sight.shares(file.frame, nearest_alone=looked.engine != "Cycles", blur_px=blur_px)
        found.expected.update({(file.frame, level): share for level, share in shares.items()})
    if any(fit is None for fit in looked.fits.values()):
        found.shown.update({(file.frame, level): share for level, share in sight.shown(file.frame).items()})
    if (
        looked.picture is not None
        and file.frame not in found.pictures
        and looked.picture.shape[:2]
        == (
            plan.shot.camera.frame_px[1],
            plan.shot.camera.frame_px[0],
        )
    ):
        found.pictures[file.frame] = keep(file.frame, looked.picture)


def _margins_px(plan: Plan) -> NDArray[np.float64]:
    """Return how far each level's edges, and those of levels before it, may be blurred, (F, L) px."""
    camera = plan.shot.camera
    if not camera.f_stop or camera.gate is None:
        return np.zeros(plan.distance.shape)
    circle = blur_circle(
        plan.distance,
        focal=plan.tracks.camera["focal"][:, None],
        focus=plan.focus_distance[:, None],
        f_stop=camera.f_stop,
    )
    radius = np.nan_to_num(circle / 2 / camera.gate.width * camera.frame_px[0])
    return np.asarray(np.minimum(np.maximum.accumulate(radius, axis=1), MOST_MARGIN_PX))
