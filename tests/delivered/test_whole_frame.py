# SPDX-License-Identifier: GPL-3.0-or-later
"""Files that are not the frames they should be: changed as a whole, and said so in one fault, with no level blamed."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import ndimage

from delivered.conftest import GLASSES, MAKING, SCHEDULE, judged
from delivered.made_frames import Making, coordinates, planned_stand, rewrite, write_frames
from small_shots import BLUE, GREEN, RED, one_colour, stack
from underglass.plan import Plan, make_plan
from underglass.proof.proof_facts import BLOCK, PASS, Proof
from underglass.shot.files import read_shot
from underglass_headless.delivered.art.art_shown import art_shown, read_art

pytestmark = pytest.mark.once

Channels = dict[str, np.ndarray]
Change = Callable[[np.ndarray], np.ndarray]

MAKINGS = {
    "Cycles, centres": MAKING,
    "Cycles, 4 samples": replace(MAKING, samples=4),
    "EEVEE, centres": replace(MAKING, eevee=True),
    "EEVEE, 4 samples": replace(MAKING, eevee=True, samples=4),
}


@dataclass(frozen=True)
class Altered:
    """What is done to the pixels of a file, and what is to be said of it."""

    change: Callable[[Channels], None]
    code: str
    words: str
    engines: tuple[str, ...] = ("Cycles", "EEVEE")


def every(change: Change) -> Callable[[Channels], None]:
    """Return a change of every channel of a file, the picture's too."""

    def do(channels: Channels) -> None:
        for name, values in channels.items():
            channels[name] = np.ascontiguousarray(change(values.astype(np.float64)).astype(values.dtype))

    return do


def shifted(right: float, down: float, **settings: object) -> Callable[[Channels], None]:
    return every(lambda a: ndimage.shift(a, (down, right), order=1, **settings))


def scaled(across: float, down: float, *, order: int = 1) -> Callable[[Channels], None]:
    """Scale about the middle of the frame; what is left is empty."""

    def change(a: np.ndarray) -> np.ndarray:
        scale = np.array([down, across])
        middle = (np.array(a.shape) - 1) / 2
        return ndimage.affine_transform(a, 1 / scale, middle - middle / scale, order=order)

    return every(change)


def turned(degrees: float) -> Callable[[Channels], None]:
    return every(lambda a: ndimage.rotate(a, degrees, reshape=False, order=1))


def skewed(a: np.ndarray) -> np.ndarray:
    """Lean upright lines over by 0.04 of their height; what is left is empty."""
    middle = (np.array(a.shape) - 1) / 2
    lean = np.array([(1.0, 0.0), (0.04, 1.0)])
    return ndimage.affine_transform(a, lean, middle - lean @ middle, order=1)


def part_moved(rows: slice) -> Callable[[Channels], None]:
    """Move some rows to the right, round the frame."""

    def do(channels: Channels) -> None:
        for values in channels.values():
            values[rows] = np.roll(values[rows], 6, axis=1)

    return do


def rows_repeated(channels: Channels) -> None:
    for values in channels.values():
        values[120:] = values[120]


def triples(channels: Channels) -> Iterable[tuple[str, ...]]:
    """Return the names of the three channels of each proof pass that has three."""
    stems = sorted({name.rpartition(".")[0] for name in channels if "proof" in name})
    return [tuple(f"{s}.{c}" for c in "RGB") for s in stems if f"{s}.G" in channels]


def matrix(numbers: np.ndarray) -> Callable[[Channels], None]:
    def do(channels: Channels) -> None:
        for names in triples(channels):
            was = np.stack([channels[name].astype(np.float64) for name in names])
            now = np.einsum("ij,jhw->ihw", numbers, was)
            for name, values in zip(names, now, strict=True):
                channels[name] = values.astype(channels[name].dtype)

    return do


def curve(change: Change) -> Callable[[Channels], None]:
    def do(channels: Channels) -> None:
        for name in [name for three in triples(channels) for name in three]:
            channels[name] = change(channels[name].astype(np.float64)).astype(channels[name].dtype)

    return do


def both(*changes: Callable[[Channels], None]) -> Callable[[Channels], None]:
    def do(channels: Channels) -> None:
        for change in changes:
            change(channels)

    return do


def order(letters: str) -> Callable[[Channels], None]:
    def do(channels: Channels) -> None:
        for names in triples(channels):
            was = dict(zip("RGB", [channels[name] for name in names], strict=True))
            for name, letter in zip(names, letters, strict=True):
                channels[name] = was[letter]

    return do


def exchanged_levels(channels: Channels) -> None:
    """What the pass of the boat holds is in that of the hills, and the reverse; the names stay."""
    boat, hills = (sorted(n for n in channels if n.startswith(f"ViewLayer.proof{number}")) for number in (1, 2))
    for one, other in zip(boat, hills, strict=True):
        channels[one], channels[other] = channels[other], channels[one]


def one_pass(channels: Channels) -> None:
    a, b = "ViewLayer.proof1.R", "ViewLayer.proof1.B"
    channels[a], channels[b] = channels[b], channels[a]


def shared_passes(channels: Channels) -> None:
    for letter in "RGB":
        a, b = (f"ViewLayer.{shared}.{letter}" for shared in ("proofu", "proofv"))
        channels[a], channels[b] = channels[b], channels[a]


def srgb(x: np.ndarray) -> np.ndarray:
    """IEC 61966-2-1."""
    return np.where(x <= 0.0031308, 12.92 * x, 1.055 * np.maximum(x, 0.0031308) ** (1 / 2.4) - 0.055)


def linear(x: np.ndarray) -> np.ndarray:
    """IEC 61966-2-1, the way back."""
    return np.where(x <= 0.04045, x / 12.92, ((np.maximum(x, 0.04045) + 0.055) / 1.055) ** 2.4)


def acescct(x: np.ndarray) -> np.ndarray:
    """S-2016-001, section 4.4."""
    return np.where(
        x <= 0.0078125, 10.5402377416545 * x + 0.0729055341958355, (np.log2(np.maximum(x, 0.0078125)) + 9.72) / 17.52
    )


# As the OpenColorIO configuration for ACES has it: linear Rec.709 to ACEScg, Bradford.
REC709_TO_ACESCG = np.array(
    [
        [0.6130973, 0.3395229, 0.0473793],
        [0.0701942, 0.9163556, 0.0134526],
        [0.0206156, 0.1095698, 0.8698151],
    ]
)

ALTERED = {
    "mirrored": Altered(every(np.fliplr), "frame-flipped", "flipped left to right"),
    "upside down": Altered(every(np.flipud), "frame-flipped", "flipped top to bottom"),
    "turned by 180": Altered(every(lambda a: a[::-1, ::-1]), "frame-turned", "turned by 180°"),
    "turned a little": Altered(turned(3.0), "frame-turned", "turned by 3° counter-clockwise"),
    "squeezed": Altered(scaled(0.83, 1.0), "frame-scaled", "squeezed to 83 % across"),
    "stretched": Altered(scaled(1.0, 1.1), "frame-scaled", "stretched to 110 % in height"),
    "smaller": Altered(scaled(0.9, 0.9), "frame-scaled", "scaled to 90 %; the edges that it left are empty"),
    "smaller, nearest": Altered(scaled(0.8, 0.8, order=0), "frame-scaled", "scaled to 80 %"),
    "larger, nearest": Altered(scaled(1.25, 1.25, order=0), "frame-scaled", "scaled to 125 %"),
    "letterboxed": Altered(
        scaled(1.0, 0.75), "frame-scaled", "squeezed to 75 % in height; the edges that it left are empty"
    ),
    "shifted": Altered(
        shifted(12, 7), "frame-shifted", "shifted 12 px right and 7 px down; the edges that it left are empty"
    ),
    "shifted by a part": Altered(shifted(0.7, 0.0), "frame-shifted", "shifted 0.7 px right"),
    "shifted, edge repeated": Altered(
        shifted(-3, 0, mode="nearest"),
        "frame-shifted",
        "3 px left; the edges that it left are filled with other pixels",
    ),
    "wrapped": Altered(
        every(lambda a: np.roll(a, (9, -20), (0, 1))),
        "frame-shifted",
        "left and 9 px down; the edges that it left are filled with other pixels",
    ),
    "sRGB": Altered(curve(srgb), "passes-recoloured", "went through the sRGB curve"),
    "sRGB undone": Altered(
        curve(lambda x: np.where(x <= 0.04045, x / 12.92, ((np.maximum(x, 0) + 0.055) / 1.055) ** 2.4)),
        "passes-recoloured",
        "went through the reverse of the sRGB curve",
    ),
    "gamma": Altered(
        curve(lambda x: np.sign(x) * np.abs(x) ** (1 / 2.2)), "passes-recoloured", "went through a gamma of 2.2"
    ),
    "clamped gamma": Altered(
        curve(lambda x: np.clip(x, 0, 1) ** (1 / 1.7)), "passes-recoloured", "went through a gamma of"
    ),
    "log": Altered(curve(acescct), "passes-recoloured", "went through the ACEScct log curve"),
    "a curve of its own": Altered(
        curve(lambda x: x * x * (3 - 2 * x)), "passes-recoloured", "went through a colour curve"
    ),
    "ACEScg": Altered(
        matrix(REC709_TO_ACESCG),
        "passes-recoloured",
        "went through the matrix from Rec.709 to ACEScg",
    ),
    "ACEScg undone": Altered(
        matrix(np.linalg.inv(REC709_TO_ACESCG)), "passes-recoloured", "went through the matrix from ACEScg to Rec.709"
    ),
    "ACEScct of ACEScg": Altered(
        both(matrix(REC709_TO_ACESCG), curve(acescct)),
        "passes-recoloured",
        "Rec.709 to ACEScg and the ACEScct log curve",
        engines=("Cycles",),
    ),
    "saturation": Altered(matrix(0.7 * np.eye(3) + 0.1), "passes-recoloured", "went through a colour matrix"),
    "darker": Altered(curve(lambda x: 0.5 * x), "passes-recoloured", "were multiplied by 0.5"),
    "warmer": Altered(
        matrix(np.diag([1.2, 1.0, 0.8])), "passes-recoloured", "were multiplied: R by 1.2, G by 1, B by 0.8"
    ),
    "graded": Altered(curve(lambda x: 0.8 * x + 0.05), "passes-recoloured", "were graded", engines=("Cycles",)),
    "BGR": Altered(order("BGR"), "passes-exchanged", "channels exchanged: R holds B, B holds R"),
    "GRB": Altered(order("GRB"), "passes-exchanged", "channels exchanged: R holds G, G holds R"),
    "GBR": Altered(order("GBR"), "passes-exchanged", "channels exchanged: R holds G, G holds B, B holds R"),
    "one pass": Altered(
        one_pass,
        "passes-exchanged",
        "passes of boat that had their channels exchanged: R holds B",
        engines=("Cycles",),
    ),
    "levels": Altered(
        exchanged_levels, "passes-exchanged", "proof passes of levels exchanged: those of boat and hills"
    ),
    "shared passes": Altered(shared_passes, "passes-exchanged", "proofu and proofv exchanged", engines=("EEVEE",)),
    "skewed": Altered(every(skewed), "frame-scaled", "skewed: upright lines lean by 2.3°"),
    "upper part moved": Altered(
        part_moved(slice(0, 80)), "frame-torn", "parts that were moved within the picture, most by about 6 px"
    ),
    "band moved": Altered(
        part_moved(slice(60, 90)), "frame-torn", "parts that were moved within the picture, most by about 6 px"
    ),
    "doubled pixels": Altered(
        every(lambda a: a[::2, ::2].repeat(2, axis=0).repeat(2, axis=1)),
        "frame-scaled",
        "made larger from a smaller picture: its pixels stand in blocks of 2 × 2",
    ),
    "rows repeated": Altered(
        rows_repeated, "frame-torn", "torn at row 120: the 59 rows after it are the same as that one"
    ),
    "whole numbers": Altered(curve(np.round), "passes-recoloured", "were rounded: "),
}


def blocks(proof: Proof) -> list[tuple[str, str, tuple[int, int]]]:
    return [(fault.code, fault.subject, fault.frames) for fault in proof.faults if fault.severity == BLOCK]


def tolerance(making: Making) -> float:
    # What frames of so few samples are told to.
    return 0.5 if making.samples or making.eevee else 0.05


@pytest.fixture(scope="session")
def made(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Path]:
    """Return a function that returns a folder of clean frames made in one of the ways."""
    folders: dict[str, Path] = {}

    def make(kind: str) -> Path:
        if kind not in folders:
            folders[kind] = tmp_path_factory.mktemp("made")
            write_frames(plan, folders[kind], making=MAKINGS[kind])
        return folders[kind]

    return make


CASES = [
    (name, kind)
    for name, one in ALTERED.items()
    for kind, making in MAKINGS.items()
    if ("EEVEE" if making.eevee else "Cycles") in one.engines
]
# In the default run every alteration is tried with either engine by the pixels' centres, and some with samples.
EVERY = 6


def few_by_default(name: str, kind: str) -> Any:
    """Return one case, with the mark of those that are tried in the suite of altered frames alone."""
    some = list(ALTERED).index(name) % EVERY == 0 if name in ALTERED else True
    return pytest.param(name, kind, marks=() if some or "centres" in kind else pytest.mark.altered)


@pytest.mark.parametrize(("name", "kind"), [few_by_default(*case) for case in CASES])
def test_what_was_done_to_a_file_is_named_and_no_level_is_blamed(
    name: str, kind: str, shot: Path, made: Callable[[str], Path], tmp_path: Path
) -> None:
    altered, making = ALTERED[name], MAKINGS[kind]
    # One stretch beside clean frames, or all there is.
    asked = (2, 5, 6, 7) if making.samples else (5, 6)
    for frame in asked:
        path = tmp_path / f"beauty.{frame:04d}.exr"
        path.write_bytes((made(kind) / path.name).read_bytes())
        if frame in {5, 6}:
            rewrite(path, altered.change)
    proof = judged(shot, tmp_path, frames=asked, tolerance_px=tolerance(making))
    assert blocks(proof) == [(altered.code, "frames", (5, 6))]
    # Of two frames words are in the plural.
    words = altered.words.replace("its pixels", "their pixels")
    assert words in proof.faults[0].message
    assert {m.frame for m in proof.measurements} == set(asked) - {5, 6}
    assert all(m.verdict == PASS for m in proof.measurements)


@pytest.mark.parametrize("kind", MAKINGS)
@pytest.mark.parametrize("by", [2, -5])
def test_a_frame_that_shows_another_says_which(
    kind: str, by: int, shot: Path, plan: Plan, made: Callable[[str], Path], tmp_path: Path
) -> None:
    making = MAKINGS[kind]
    copy(made(kind), tmp_path, without=(6 + by, 7 + by))
    write_frames(plan, tmp_path, frames=(6, 7), making=making, stand=lambda frame, _: planned_stand(plan, frame + by))
    asked = tuple(int(path.stem.split(".")[1]) for path in sorted(tmp_path.glob("*.exr")))
    proof = judged(shot, tmp_path, frames=asked, tolerance_px=tolerance(making))
    assert blocks(proof) == [("frame-shows-another", "frames", (6, 7))]
    assert proof.faults[0].message == f"frames 6-7 show what the plan has on frames {6 + by}-{7 + by}"


def test_frames_in_reverse_order_each_say_which_they_are(shot: Path, plan: Plan, tmp_path: Path) -> None:
    write_frames(plan, tmp_path, making=MAKING, stand=lambda frame, _: planned_stand(plan, 13 - frame))
    proof = judged(shot, tmp_path)
    assert {fault.code for fault in proof.faults} == {"frame-shows-another"}
    assert "frame 2 shows what the plan has on frame 11" in {fault.message for fault in proof.faults}


@pytest.mark.parametrize("kind", MAKINGS)
@pytest.mark.parametrize("axis", [0, 1])
def test_a_torn_frame_says_where_and_of_what(
    kind: str, axis: int, shot: Path, plan: Plan, made: Callable[[str], Path], tmp_path: Path
) -> None:
    making = MAKINGS[kind]
    copy(made(kind), tmp_path)
    other: Channels = {}
    rewrite(tmp_path / "beauty.0009.exr", other.update)

    def tear(channels: Channels) -> None:
        part = (slice(101, None), slice(None)) if axis == 0 else (slice(None), slice(101, None))
        for name, values in channels.items():
            values[part] = other[name][part]

    rewrite(tmp_path / "beauty.0005.exr", tear)
    proof = judged(shot, tmp_path, tolerance_px=tolerance(making))
    assert blocks(proof) == [("frame-torn", "frames", (5, 5))]
    what, before, after = ("row", "above", "below") if axis == 0 else ("column", "left of", "right of")
    message = proof.faults[0].message
    at = int(message.split(f"torn at {what} ")[1].split(":")[0])
    assert abs(at - 101) <= 3
    assert message.endswith(f"{before} it is the frame itself, {after} it is frame 9")


def test_passes_of_another_frame_beside_their_own_picture_are_told_by_the_art(tmp_path: Path) -> None:
    cards = []
    for glass, colour in zip(GLASSES, (RED, GREEN, BLUE, (90, 90, 90, 255)), strict=True):
        one_colour(tmp_path / "shot" / "art" / f"{glass.name}.png", colour)
        cards.append(replace(glass, art=f"art/{glass.name}.png"))
    shot = stack(tmp_path / "shot", cards, frame_px=(240, 180), frames=(1, 12), schedule=SCHEDULE)
    plan = make_plan(read_shot(shot))
    for folder, shown in ((tmp_path / "passes", 4), (tmp_path / "both", 10)):
        write_frames(plan, folder, frames=[4], making=MAKING, stand=lambda frame, _: planned_stand(plan, 10))
        paint = painted(plan, shown)

        def change(channels: Channels, paint: np.ndarray = paint) -> None:
            for at, letter in enumerate("RGBA"):
                channels[f"ViewLayer.Combined.{letter}"] = np.ascontiguousarray(paint[..., at])

        rewrite(folder / "beauty.0004.exr", change)
    proof = judged(shot, tmp_path / "passes", frames=(4,))
    assert [fault.message for fault in proof.faults] == [
        "frame 4 has the proof passes of frame 10; its picture is its own"
    ]
    proof = judged(shot, tmp_path / "both", frames=(4,))
    assert [fault.message for fault in proof.faults] == ["frame 4 shows what the plan has on frame 10"]


def test_a_file_that_says_that_it_is_of_another_frame_is_called_that_alone(
    shot: Path, made: Callable[[str], Path], tmp_path: Path
) -> None:
    copy(made("Cycles, 4 samples"), tmp_path)
    (tmp_path / "beauty.0006.exr").write_bytes((tmp_path / "beauty.0009.exr").read_bytes())
    assert blocks(judged(shot, tmp_path, tolerance_px=0.5)) == [("frame-number", "frames", (6, 6))]


def copy(made: Path, folder: Path, *, without: tuple[int, ...] = ()) -> None:
    for path in made.glob("*.exr"):
        if int(path.stem.split(".")[1]) not in without:
            (folder / path.name).write_bytes(path.read_bytes())


def painted(plan: Plan, frame: int) -> np.ndarray:
    """Return the picture of a frame, (H, W, 4), painted with the art that it shows, pixel by pixel."""
    width, height = plan.shot.camera.frame_px
    x, y = np.arange(width)[None, :] + 0.5 - width / 2, height / 2 - np.arange(height)[:, None] - 0.5
    picture = np.zeros((height, width, 4), dtype=np.float32)
    stand = planned_stand(plan, frame)
    for number in reversed(range(len(plan.names))):
        u, v = coordinates(plan, number, frame=frame, stand=stand, x=x, y=y)
        path = art_shown(plan, frame - int(plan.frames[0]), number)
        assert path is not None
        art = read_art(path)
        met = (u >= 0) & (u < 1) & (v > 0) & (v <= 1)
        rows = np.clip(((1 - v) * art.shape[0]).astype(int), 0, art.shape[0] - 1)
        columns = np.clip((u * art.shape[1]).astype(int), 0, art.shape[1] - 1)
        shows = art[rows, columns] * met[..., None]
        picture = shows + (1 - shows[..., 3:]) * picture
    return picture
