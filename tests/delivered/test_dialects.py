# SPDX-License-Identifier: GPL-3.0-or-later
"""Frames in the spellings and compressions of other programs: their passes and picture are known for what they are."""

import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import OpenEXR
import pytest

from delivered.conftest import MAKING
from delivered.made_frames import COMPRESSIONS, write_frames
from delivered.other_programs import contents, in_parts, respell
from delivered.test_file_faults import blocks
from underglass.plan import Plan
from underglass.proof.proof_facts import FAIL, PASS, Proof
from underglass_headless.delivered.asked_of_file import Asked
from underglass_headless.delivered.files.channel_names import spelling_of
from underglass_headless.delivered.files.file_contents import marked
from underglass_headless.delivered.files.pass_fits import LOSSLESS, is_lossy
from underglass_headless.delivered.read_frame import look_at

LONG = {"R": "red", "G": "green", "B": "blue", "A": "alpha"}
TRIPLE = dict(zip("RGBA", "xyzw", strict=True))


def letters(spelled: dict[str, str]) -> Callable[[str], str]:
    """Return what spells the letter of every channel otherwise."""
    return lambda name: f"{name.rpartition('.')[0]}.{spelled[name.rpartition('.')[2]]}"


def of_passes(spelled: dict[str, str]) -> Callable[[str], str]:
    """Return what spells the letters of proof passes otherwise; the picture keeps its colours."""
    return lambda name: letters(spelled)(name) if "proof" in name else name


NAMES: dict[str, Callable[[str], str]] = {
    "small": letters({letter: letter.lower() for letter in "RGBA"}),
    "red green blue alpha": letters(LONG),
    "Red": letters({letter: word.title() for letter, word in LONG.items()}),
    "X Y Z W": of_passes({letter: word.upper() for letter, word in TRIPLE.items()}),
    "x y z w": of_passes(TRIPLE),
    "u v with alpha": of_passes({"R": "u", "G": "v", "B": "dropped", "A": "a"}),
    "no layer": lambda name: name.removeprefix("ViewLayer.").removeprefix("Combined."),
    "deep layers": lambda name: f"Scene.Stand.{name}",
    "underscores": lambda name: name.replace("ViewLayer.", "ViewLayer_"),
    "small letters alone": lambda name: name.lower(),
    "rgba layer": lambda name: name.replace("ViewLayer.Combined", "rgba"),
    "a layer of any name": lambda name: name.replace("ViewLayer.Combined", "stand"),
}
PARTS: dict[str, Callable[[str], tuple[str, str]]] = {
    "a part a layer, plain letters": lambda name: (name.rpartition(".")[0], name.rpartition(".")[2]),
    "a part a pass, plain letters": lambda name: (name.split(".")[1], name.rpartition(".")[2]),
    "a part a pass, long words": lambda name: (name.split(".")[1], LONG[name.rpartition(".")[2]]),
    "a part a layer, whole names": lambda name: (name.rpartition(".")[0], name),
    "a part a layer, names of passes": lambda name: (name.rpartition(".")[0], name.partition(".")[2]),
    "a part rgba and parts of passes": lambda name: (
        ("rgba", name[-1]) if "Combined" in name else (name.split(".")[1], name.split(".", 1)[1])
    ),
    "all passes in one part": lambda name: ("ViewLayer", name.partition(".")[2]),
}


@pytest.fixture(scope="module")
def three(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder of three clean frames, to be copied."""
    folder = tmp_path_factory.mktemp("three")
    write_frames(plan, folder, frames=[1, 6, 12], making=MAKING)
    return folder


@pytest.fixture
def frames(three: Path, tmp_path: Path) -> list[Path]:
    """Return three clean frames, to do with as one likes."""
    return [Path(shutil.copy(path, tmp_path)) for path in sorted(three.iterdir())]


def is_as_good_as_ever(proof: Proof, three: Path, proof_of: Callable[..., Proof]) -> bool:
    before = proof_of(three, frames=(1, 6, 12))
    same = [(m.frame, m.level, m.error_px, m.uncertainty_px) for m in proof.measurements]
    return same == [(m.frame, m.level, m.error_px, m.uncertainty_px) for m in before.measurements]


@pytest.mark.parametrize("kind", NAMES)
def test_passes_and_picture_are_known_however_they_are_named(
    kind: str, frames: list[Path], three: Path, proof_of: Callable[..., Proof]
) -> None:
    for path in frames:
        respell(path, NAMES[kind])
    proof = proof_of(frames[0].parent, frames=(1, 6, 12))
    assert (proof.verdict, proof.faults) == (PASS, ())
    assert is_as_good_as_ever(proof, three, proof_of)
    assert the_picture_is(frames[0], three)


@pytest.mark.parametrize("kind", PARTS)
def test_passes_and_picture_are_known_in_parts_of_any_name(
    kind: str, frames: list[Path], three: Path, proof_of: Callable[..., Proof]
) -> None:
    for path in frames:
        in_parts(path, PARTS[kind])
    proof = proof_of(frames[0].parent, frames=(1, 6, 12))
    assert (proof.verdict, proof.faults) == (PASS, ())
    assert is_as_good_as_ever(proof, three, proof_of)
    assert the_picture_is(frames[0], three)


def the_picture_is(path: Path, three: Path) -> bool:
    """Return whether a file has the picture of the clean file of its name."""
    found, wanted = (
        look_at(file, Asked(frame=1, frame_px=(240, 180), margins_px={}, with_picture=True)).picture
        for file in (path, three / path.name)
    )
    return found is not None and wanted is not None and bool((found == wanted).all())


def test_coordinates_alone_tell_where_whole_pixels_show_the_level(
    frames: list[Path], plan: Plan, proof_of: Callable[..., Proof]
) -> None:
    for path in frames:
        said, channels = contents(path)
        kept = {name: pixels for name, pixels in channels.items() if "proof" not in name or name[-1] in "RG"}
        OpenEXR.File(said, {of_passes({"R": "U", "G": "V"})(name): p for name, p in kept.items()}).write(str(path))
    proof = proof_of(frames[0].parent, frames=(1, 6, 12))
    assert (proof.verdict, proof.faults) == (PASS, ())
    assert all(m.error_px <= m.uncertainty_px for m in proof.measurements)
    assert len(proof.measurements) == 12


def test_coordinates_alone_of_many_samples_are_measured_to_their_uncertainty(
    plan: Plan, tmp_path: Path, proof_of: Callable[..., Proof]
) -> None:
    for path in write_frames(plan, tmp_path, frames=[1, 6, 12], making=replace(MAKING, samples=16)):
        said, channels = contents(path)
        kept = {name: pixels for name, pixels in channels.items() if "proof" not in name or name[-1] in "RG"}
        OpenEXR.File(said, {of_passes({"R": "U", "G": "V"})(name): p for name, p in kept.items()}).write(str(path))
    proof = proof_of(tmp_path, frames=(1, 6, 12), tolerance_px=1.0)
    assert (proof.verdict, proof.faults) == (PASS, ())
    assert all(m.error_px <= m.uncertainty_px for m in proof.measurements)


def test_a_pixel_is_marked_whole_only_where_all_its_samples_hit_the_level(plan: Plan, tmp_path: Path) -> None:
    (path,) = write_frames(plan, tmp_path, frames=[6], making=replace(MAKING, samples=16))
    _, channels = contents(path)
    for number in range(4):
        u, v, hit = (channels[f"ViewLayer.proof{number}.{letter}"] for letter in "RGB")
        mark = marked(u, v)
        assert (hit[mark == 1.0] > 0.999).all()
        assert (hit[mark == 0.0] == 0.0).all()
        # Beside edges alone a pixel is not known to be whole.
        assert (mark == 1.0).sum() > 0.8 * (hit > 0.999).sum()


def test_eevees_passes_are_known_in_parts_and_other_letters(
    plan: Plan, tmp_path: Path, proof_of: Callable[..., Proof]
) -> None:
    making = replace(MAKING, eevee=True, samples=4)
    write_frames(plan, tmp_path / "usual", frames=[1, 6, 12], making=making)
    before = proof_of(tmp_path / "usual", frames=(1, 6, 12), tolerance_px=2.0)
    assert before.verdict == PASS
    for kind, do in {
        "parts": lambda path: in_parts(path, lambda name: (name.rpartition(".")[0], name[-1])),
        "single": lambda path: respell(
            path, lambda name: name.removesuffix(".X") if name.endswith(".X") else letters(LONG)(name)
        ),
        "small": lambda path: respell(path, lambda name: name.lower()),
    }.items():
        for path in write_frames(plan, tmp_path / kind, frames=[1, 6, 12], making=making):
            do(path)
        after = proof_of(tmp_path / kind, frames=(1, 6, 12), tolerance_px=2.0)
        assert [m.error_px for m in after.measurements] == [m.error_px for m in before.measurements], kind


def test_where_no_pass_is_known_the_channels_that_were_found_are_listed(
    frames: list[Path], proof_of: Callable[..., Proof]
) -> None:
    respell(frames[1], lambda name: name.replace("proof", "coordinates"))
    proof = proof_of(frames[0].parent, frames=(1, 6, 12))
    assert blocks(proof) == [("not-proved", (6, 6))]
    assert "no proof passes by their names, but ViewLayer.coordinates0" in proof.faults[0].message
    assert "name them proof0 to proof" in proof.faults[0].message


@pytest.mark.parametrize(
    ("names", "picture"),
    [
        (["R", "G", "B"], ["R", "G", "B"]),
        (["B", "G", "R", "A", "Z"], ["R", "G", "B", "A"]),
        (
            ["L.Combined.R", "L.Combined.G", "L.Combined.B", "R", "G", "B"],
            ["L.Combined.R", "L.Combined.G", "L.Combined.B"],
        ),
        (["Red", "Green", "Blue", "Alpha"], ["Red", "Green", "Blue", "Alpha"]),
        (["X", "Y", "Z"], []),
        (["Y", "RY", "BY"], []),
        (["uCryptoObject00.R", "uCryptoObject00.G", "uCryptoObject00.B"], []),
        (["proof0.R", "proof0.G", "proof0.B"], []),
        (["a.R", "a.G", "a.B", "b.R", "b.G", "b.B"], []),
        (["a.R", "a.G", "a.B", "beauty.R", "beauty.G", "beauty.B"], ["beauty.R", "beauty.G", "beauty.B"]),
    ],
)
def test_the_picture_is_what_is_named_so_or_the_only_one_there_is(names: list[str], picture: list[str]) -> None:
    assert list(spelling_of(names).picture) == picture


def test_of_several_view_layers_the_first_counts_and_no_other_name_is_taken_for_a_pass() -> None:
    first, second = ([f"{layer}.proof0.{letter}" for letter in "RGB"] for layer in ("a", "b"))
    assert list(spelling_of([*first, *second]).passes.values()) == [*first, *second]
    for stem in ("waterproof0", "proof", "proof12345", "proof0b", "proofing", "proof0.shadow", "proofs0"):
        assert not spelling_of(f"{stem}.{letter}" for letter in "RGB").passes


# What the installed library can write, by its own names.
BY_NAME = {
    name.removesuffix("_COMPRESSION"): getattr(OpenEXR, name) for name in dir(OpenEXR) if name.endswith("_COMPRESSION")
}
KINDS = [(name, kind) for name in BY_NAME if name != "NUM" for kind in (np.float32, np.float16)]


@pytest.mark.parametrize(("name", "kind"), KINDS)
def test_a_compression_is_lossy_where_the_library_changes_values(name: str, kind: type, tmp_path: Path) -> None:
    # Coordinates as a pass holds them, with a little scatter: what is rounded or smoothed comes back changed.
    scatter = np.random.default_rng(1).normal(0, 1e-3, (48, 64))
    pixels = (np.add.outer(np.linspace(0, 1, 48), np.linspace(0, 1 / 3, 64)) + scatter).astype(kind)
    path = tmp_path / "one.exr"
    header = {"type": OpenEXR.scanlineimage, "compression": BY_NAME[name]}
    OpenEXR.File(header, {f"proof0.{letter}": pixels.copy() for letter in "RGB"}).write(str(path))
    with OpenEXR.File(str(path), separate_channels=True) as file:
        changed = not all((channel.pixels == pixels).all() for channel in file.channels().values())
    # PXR24 rounds floats to 24 bits: what is stated takes that in.
    assert is_lossy(name, np.dtype(kind)) == (changed and name != "PXR24")
    assert set(LOSSLESS) >= {"NO", "RLE", "ZIPS", "ZIP", "PIZ", "PXR24"}


@pytest.mark.parametrize("name", ["B44", "B44A", "HTJ2K32", "HTJ2K256", "PIZ", "RLE"])
def test_single_floats_in_a_lossless_compression_are_measured_as_ever(
    name: str, frames: list[Path], three: Path, proof_of: Callable[..., Proof]
) -> None:
    if name not in BY_NAME:
        pytest.skip(f"this OpenEXR has no {name}")
    for path in frames:
        respell(path, lambda channel: channel, compression=BY_NAME[name])
    proof = proof_of(frames[0].parent, frames=(1, 6, 12))
    assert (proof.verdict, proof.faults) == (PASS, ())
    assert is_as_good_as_ever(proof, three, proof_of)


@pytest.mark.parametrize(("name", "half"), [("B44", True), ("B44A", True), ("DWAA", False), ("DWAB", True)])
def test_passes_that_compression_changed_are_not_judged(
    name: str, half: bool, plan: Plan, tmp_path: Path, proof_of: Callable[..., Proof]
) -> None:
    for path in write_frames(plan, tmp_path, frames=[1, 6], making=replace(MAKING, half=half)):
        respell(path, lambda channel: channel, compression=BY_NAME[name])
    proof = proof_of(tmp_path, frames=(1, 6), tolerance_px=5.0)
    assert proof.verdict == FAIL
    assert blocks(proof) == [("not-proved", (1, 6))]
    assert f"compressed with {name}, which changes coordinates; write ZIP or PIZ" in proof.faults[0].message
    assert set(COMPRESSIONS) >= {"DWAA"}


def test_of_several_pictures_the_one_in_the_layer_of_the_passes_counts() -> None:
    passes = [f"ViewLayer.proof{level}.{letter}" for level in (0, 1) for letter in "RGB"]
    pictures = [f"{layer}.Combined.{letter}" for layer in ("Composite", "ViewLayer") for letter in "RGBA"]
    wanted = tuple(f"ViewLayer.Combined.{letter}" for letter in "RGBA")
    assert spelling_of([*pictures, *passes]).picture == wanted
    assert spelling_of([*"RGB", *wanted, *passes]).picture == wanted
    # Without passes it is the first.
    assert spelling_of(pictures).picture[0] == "Composite.Combined.R"
