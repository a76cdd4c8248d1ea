# SPDX-License-Identifier: GPL-3.0-or-later
"""The pictures of delivered frames by themselves: other art, other colours, one colour, one beside right passes."""

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from delivered.conftest import MAKING, judged, lay_out
from delivered.made_frames import Making, metadata, paint_art, rewrite, write_frames
from delivered.test_building import side_by_side
from delivered.test_file_faults import blocks, file_of
from small_shots import Glass, one_colour, stack
from stage import art
from underglass.image.art_digest import art_digests
from underglass.image.frame_note import MOST_BYTES, FrameNote, note_text, read_note
from underglass.plan import Plan, make_plan
from underglass.proof.proof_facts import FAIL, PASS, Proof
from underglass.shot.files import read_shot
from underglass.shot.files.shot_fingerprint import fingerprint
from underglass_headless.delivered.judging.colour_change import _ACESCG, _BT2020, PARTLY, change_of

CHANNELS = [f"ViewLayer.Combined.{letter}" for letter in "RGB"]
Light = Callable[[np.ndarray], np.ndarray]


def noted(plan: Plan) -> Making:
    """Return how frames are made whose note tells of the art as it lies with the shot now."""
    note = FrameNote.of(
        shot=fingerprint(plan.shot),
        title=plan.shot.title,
        scene="Scene",
        camera="stand camera",
        art=art_digests(plan.shot),
    )
    return replace(MAKING, header={"Note": note_text(note)})


def regrade(path: Path, change: Light) -> None:
    """Change the light (H, W, 3) of a frame's picture."""

    def graded(channels: dict[str, np.ndarray]) -> None:
        light = change(np.stack([channels[name] for name in CHANNELS], axis=-1).astype(np.float64))
        for at, name in enumerate(CHANNELS):
            channels[name] = np.ascontiguousarray(light[..., at].astype(channels[name].dtype))

    rewrite(path, graded)


# -- which art it was -------------------------------------------------------------------------------------------------


def test_a_note_tells_of_the_art_of_as_many_levels_as_there_is_room_for() -> None:
    many = tuple(f"{number:064x}"[::-1] for number in range(200))
    for title in ("Estuary", 'Fähre "West" \\ ночь ' + "x" * 80, "夜" * 80):
        note = FrameNote.of(shot="0123456789abcdef", title=title, scene="s" * 60, camera="😀" * 60, art=many)
        assert len(note_text(note).encode()) <= MOST_BYTES
        assert read_note(note_text(note)) == note
        assert not note.is_of_other_art(many)
        assert note.is_of_other_art([*many[:-1], "f" * 64])
        assert note.other_levels(["f" * 64, *many[1:]]) == [0]
        assert 3 < len(note.levels) < 200


def test_a_note_that_says_nothing_of_the_art_is_read_and_held_to_none(
    plan: Plan, delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    note = read_note(metadata(plan, 1, MAKING)["Note"])
    assert note is not None
    assert (note.art, note.levels) == ("", ())
    assert proof_of(delivery).verdict == PASS


@pytest.mark.parametrize("repainted", [("hills",), ("reeds", "boat", "sky")])
def test_frames_of_older_art_are_stale_and_the_levels_are_named(repainted: tuple[str, ...], tmp_path: Path) -> None:
    shot = lay_out(tmp_path)
    plan = make_plan(read_shot(shot))
    write_frames(plan, tmp_path / "frames", making=noted(plan))
    assert judged(shot, tmp_path / "frames").verdict == PASS
    for name in repainted:
        # mirrored, as the size that the shot has stays
        path = tmp_path / f"art/{name}.png"
        Image.open(path).transpose(Image.Transpose.FLIP_LEFT_RIGHT).save(path)
    proof = judged(shot, tmp_path / "frames")
    assert blocks(proof) == [("frame-stale", (1, 12))]
    assert f"other art than lies with the shot now ({', '.join(repainted)})" in proof.faults[0].message


def test_a_drawing_that_was_painted_anew_tells_too(tmp_path: Path) -> None:
    for number, name in enumerate(("one", "two", "sky")):
        paint_art(tmp_path / f"art/{name}.png", number)
    glasses = [
        Glass("bird", 700.0, width=90.0, art="art/{drawing}.png"),
        Glass("sky", 100.0, width=560.0, art="art/sky.png"),
    ]
    shot = stack(tmp_path, glasses, frame_px=(160, 120), drawings="frame,bird\n1,one\n2,two\n")
    plan = make_plan(read_shot(shot))
    write_frames(plan, tmp_path / "frames", making=noted(plan))
    assert judged(shot, tmp_path / "frames").verdict == PASS
    paint_art(tmp_path / "art/two.png", 5)
    proof = judged(shot, tmp_path / "frames")
    assert blocks(proof) == [("frame-stale", (1, 3))]
    assert "(bird)" in proof.faults[0].message


# -- colours ----------------------------------------------------------------------------------------------------------

GRADES: dict[str, tuple[Light, str]] = {
    "encoded": (lambda light: art.code_from_linear(light) / 255, "its sRGB codes stand there as light"),
    "decoded": (art.linear_from_srgb, "its light was decoded as sRGB once more"),
    "darker": (lambda light: 0.8 * light, "they are 0.8 times as bright"),
    "a stop more": (lambda light: 2.0 * light, "they are 2 times as bright"),
    "exchanged": (lambda light: light[..., ::-1], "red, green and blue hold its blue, green, red"),
    "warmer": (lambda light: light * [1.2, 1.0, 0.8], "red, green and blue are 1.2 : 1 : 0.8 times as bright"),
    "ACEScg": (lambda light: light @ _ACESCG.T, "its light is told in the primaries of ACEScg"),
    "curve": (lambda light: light**1.6 + 0.05, "in the middle they are 27.8 to 28"),
}


@pytest.mark.parametrize("name", GRADES)
@pytest.mark.parametrize("making", [MAKING, replace(MAKING, eevee=True, samples=4)], ids=["Cycles", "EEVEE"])
def test_colours_that_are_not_the_arts_are_told_and_no_level_is_blamed(
    name: str, making: Making, shot: Path, plan: Plan, tmp_path: Path
) -> None:
    change, words = GRADES[name]
    for path in write_frames(plan, tmp_path, making=making, frames=(4, 5)):
        regrade(path, change)
    proof = judged(shot, tmp_path, frames=(4, 5), tolerance_px=0.5)
    assert blocks(proof) == [("colours-differ", (4, 5))]
    assert proof.verdict == FAIL
    assert f"frames 4-5 have other colours than the art: {words}" in proof.faults[0].message
    assert "made on purpose" in proof.faults[0].message
    assert set(proof.rendered_frames) == {4, 5}
    assert all(m.verdict == PASS for m in proof.measurements)


# Red, green, blue and white as x, y: IEC 61966-2-1, S-2014-004 (ACEScg), ITU-R BT.2020.
SRGB = [(0.64, 0.33), (0.30, 0.60), (0.15, 0.06), (0.3127, 0.3290)]
AP1 = [(0.713, 0.293), (0.165, 0.830), (0.128, 0.044), (0.32168, 0.33767)]
BT2020 = [(0.708, 0.292), (0.170, 0.797), (0.131, 0.046), (0.3127, 0.3290)]
# Bradford's cone responses, as in the specification of ICC profiles, annex E.
BRADFORD = np.array([(0.8951, 0.2664, -0.1614), (-0.7502, 1.7135, 0.0367), (0.0389, -0.0685, 1.0296)])


def xyz_of(x: float, y: float) -> np.ndarray:
    return np.array([x / y, 1.0, (1 - x - y) / y])


def xyz_from(primaries: list[tuple[float, float]]) -> np.ndarray:
    """Return the matrix from light in ``primaries`` to XYZ (SMPTE RP 177)."""
    columns = np.stack([xyz_of(*one) for one in primaries[:3]], axis=1)
    return columns * np.linalg.solve(columns, xyz_of(*primaries[3]))


def between(one: list[tuple[float, float]], other: list[tuple[float, float]]) -> np.ndarray:
    whites = [BRADFORD @ xyz_of(*primaries[3]) for primaries in (one, other)]
    adapted = np.linalg.inv(BRADFORD) @ np.diag(whites[1] / whites[0]) @ BRADFORD
    return np.linalg.inv(xyz_from(other)) @ adapted @ xyz_from(one)


@pytest.mark.parametrize(("matrix", "primaries"), [(_ACESCG, AP1), (_BT2020, BT2020)])
def test_the_matrices_of_other_primaries_follow_from_what_is_published(
    matrix: np.ndarray, primaries: list[tuple[float, float]]
) -> None:
    assert matrix == pytest.approx(between(SRGB, primaries), abs=5e-5)
    assert matrix.sum(axis=1) == pytest.approx(1.0, abs=5e-6)


def test_one_level_of_other_colours_is_named(shot: Path, plan: Plan, tmp_path: Path) -> None:
    original = shot.parent / "art/boat.png"
    kept = original.read_bytes()
    try:
        Image.fromarray(np.asarray(Image.open(original))[..., [2, 1, 0, 3]]).save(original)
        write_frames(plan, tmp_path, making=MAKING)
    finally:
        original.write_bytes(kept)
    proof = judged(shot, tmp_path)
    assert blocks(proof) == [("colours-differ", (1, 12))]
    assert "than the art of boat: red, green and blue hold its blue, green, red" in proof.faults[0].message


@pytest.mark.parametrize("amount", [0.985, 1.015])
def test_colours_that_are_a_hair_off_are_no_fault(
    amount: float, delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    regrade(file_of(delivery, 3), lambda light: light * amount)
    assert proof_of(delivery).verdict == PASS


def test_art_that_was_missing_where_frames_were_rendered_shows_magenta(
    plan: Plan, delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    for frame in (7, 8):
        regrade(file_of(delivery, frame), lambda light: np.where(light > 0, [1.0, 0.0, 1.0], light))
    proof = proof_of(delivery)
    assert blocks(proof) == [("art-not-found", (7, 8))]
    assert "frames 7-8 show magenta where reeds, boat, hills and 1 more should be" in proof.faults[0].message
    assert "--pack" in proof.faults[0].message


@pytest.mark.parametrize("passes", [True, False])
def test_only_the_level_whose_art_was_missing_is_named_and_not_what_is_seen_through_it(
    passes: bool, tmp_path: Path
) -> None:
    # the art of the middle level covers the lower half of its sheet; in its place the whole sheet is drawn
    for name, number in (("near", 3), ("ridge", 1), ("sky", 2)):
        paint_art(tmp_path / f"art/{name}.png", number)
    codes = np.asarray(Image.open(tmp_path / "art/ridge.png")).copy()
    codes[:120] = 0
    Image.fromarray(codes).save(tmp_path / "art/ridge.png")
    glasses = [
        Glass("near", 700.0, width=40.0, east=20.0, art="art/near.png"),
        Glass("ridge", 500.0, width=420.0, art="art/ridge.png"),
        Glass("sky", 100.0, width=560.0, art="art/sky.png"),
    ]
    shot = stack(tmp_path, glasses, frame_px=(200, 150), frames=(1, 3))
    kept = (tmp_path / "art/ridge.png").read_bytes()
    Image.fromarray(np.full_like(codes, (255, 0, 255, 255))).save(tmp_path / "art/ridge.png")
    write_frames(make_plan(read_shot(shot)), tmp_path / "frames", making=replace(MAKING, passes=passes))
    (tmp_path / "art/ridge.png").write_bytes(kept)
    missing = [fault for fault in judged(shot, tmp_path / "frames").faults if fault.code == "art-not-found"]
    assert [fault.frames for fault in missing] == [(1, 3)]
    assert "magenta where ridge should be (whether sky behind it had its art cannot be told)" in missing[0].message


def test_frames_without_passes_tell_of_missing_art_too(shot: Path, plan: Plan, tmp_path: Path) -> None:
    for path in write_frames(plan, tmp_path, making=replace(MAKING, passes=False), frames=(5,)):
        regrade(path, lambda light: np.where(light > 0, [1.0, 0.0, 1.0], light))
    assert ("art-not-found", (5, 5)) in blocks(judged(shot, tmp_path, frames=(5,)))


def test_what_a_file_says_of_its_colours_is_held_to_the_arts(
    shot: Path, plan: Plan, delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    usual = replace(MAKING, header={"colorInteropID": "lin_rec709_scene"})
    write_frames(plan, delivery, making=usual, frames=(1, 2))
    write_frames(plan, delivery, making=replace(MAKING, header={"colorInteropID": "lin_ap1_scene"}), frames=(9,))
    proof = proof_of(delivery)
    assert blocks(proof) == [("colours-differ", (9, 9))]
    assert "says that its colours are lin_ap1_scene" in proof.faults[0].message


ACESCG = (0.713, 0.293, 0.165, 0.83, 0.128, 0.044, 0.32168, 0.33767)
REC_709 = (0.64, 0.33, 0.3, 0.6, 0.15, 0.06, 0.3127, 0.329)


def test_primaries_that_a_file_says_are_held_to_the_arts(
    plan: Plan, delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    for frame, header in {
        3: {"chromaticities": REC_709},
        5: {"colorInteropID": "lin_rec709_scene", "chromaticities": ACESCG},
        6: {"chromaticities": tuple(number + 0.1 for number in REC_709)},
        # These say nothing of colours.
        8: {"colorInteropID": "unknown"},
        9: {"colorInteropID": "LIN_REC709_SCENE"},
    }.items():
        write_frames(plan, delivery, making=replace(MAKING, header=header), frames=(frame,))
    proof = proof_of(delivery)
    assert blocks(proof) == [("colours-differ", (5, 5)), ("colours-differ", (6, 6))]
    assert "says that its colours are of the primaries of ACEScg, the art's light is" in proof.faults[0].message
    assert "says that its colours are of other primaries, the art's light is" in proof.faults[1].message


@pytest.mark.parametrize("kind", ["16-bit PNG", "EXR", "EXR beyond white", "TIFF", "TIFF, alpha multiplied in"])
def test_art_of_every_kind_is_compared_by_its_light(kind: str, tmp_path: Path) -> None:
    paint_art(tmp_path / "art/rgba.png", 1)
    codes = np.asarray(Image.open(tmp_path / "art/rgba.png")).copy()
    codes[:60, :, 3] = 128
    file, light = tmp_path / "art/near", art.linear_from_srgb(codes[..., :3] / 255)
    if kind == "16-bit PNG":
        file = file.with_suffix(".png")
        Image.fromarray(codes).save(file)
        art.write_png16(tmp_path / "art/far.png", codes[..., :3].astype(np.uint16) * 257)
    elif kind.startswith("EXR"):
        file = file.with_suffix(".exr")
        share = codes[..., 3:] / 255
        art.write_exr(file, np.dstack([light * share * (4 if "beyond" in kind else 1), share]).astype(np.float32))
    else:
        file, share = file.with_suffix(".tif"), codes[..., 3:] / 255
        associated = "multiplied" in kind
        written = np.dstack([codes[..., :3] * (share if associated else 1), codes[..., 3]]).round().astype(np.uint8)
        art.write_tiff(file, written, associated=associated)
    far = "art/far.png" if kind == "16-bit PNG" else "art/rgba.png"
    glasses = [Glass("near", 700.0, width=90.0, art=f"art/{file.name}"), Glass("far", 100.0, width=560.0, art=far)]
    shot = stack(tmp_path, glasses, frame_px=(200, 150), frames=(1, 2))
    plan = make_plan(read_shot(shot))
    written_frames = write_frames(plan, tmp_path / "frames", making=replace(MAKING, clear=("near",)))
    assert judged(shot, tmp_path / "frames").faults == ()
    regrade(written_frames[0], lambda light: 1.1 * light)
    proof = judged(shot, tmp_path / "frames")
    assert blocks(proof) == [("colours-differ", (1, 1))]
    assert "than the art: they are 1.1 times as bright" in proof.faults[0].message


def test_a_level_that_an_exposure_dims_is_not_held_to_its_art(tmp_path: Path) -> None:
    shot = lay_out(tmp_path)
    text = shot.read_text(encoding="utf-8")
    shot.write_text(f'{text}\n[[exposure]]\nname = "night"\nfade = [[1, 0.0], [8, 1.0]]\n', encoding="utf-8")
    plan = make_plan(read_shot(shot))
    for path in write_frames(plan, tmp_path / "frames", making=MAKING, frames=(4, 9)):
        regrade(path, lambda light: 0.4 * light)
    assert blocks(judged(shot, tmp_path / "frames", frames=(4, 9))) == [("colours-differ", (9, 9))]


def test_the_outermost_pixels_which_eevee_draws_weaker_tell_no_colours(tmp_path: Path) -> None:
    # the first level shows in three columns of pixels, at the picture's edge
    shot = side_by_side(tmp_path / "shot", 14)
    plan = make_plan(read_shot(shot))
    for path in write_frames(plan, tmp_path / "frames", making=replace(MAKING, eevee=True)):
        regrade(path, lambda light: light * np.where(np.arange(light.shape[1]) < 3, 0.9, 1.0)[:, None])
    proof = judged(shot, tmp_path / "frames", tolerance_px=0.5)
    assert [fault for fault in proof.faults if fault.code == "colours-differ"] == []


# -- one colour, one picture ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("value", [1.0, 0.18, -0.1])
def test_a_picture_of_one_colour_where_the_plan_has_more_is_a_fault(
    value: float, delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    regrade(file_of(delivery, 5), lambda light: np.full_like(light, value))
    proof = proof_of(delivery)
    assert blocks(proof) == [("frame-one-colour", (5, 5))]
    assert "frame 5 is of one colour all over" in proof.faults[0].message


def test_a_picture_of_one_colour_is_right_where_the_art_has_no_more(tmp_path: Path) -> None:
    one_colour(tmp_path / "art/grey.png", (90, 120, 200, 255))
    shot = stack(tmp_path, [Glass("sky", 100.0, width=560.0, art="art/grey.png")], frame_px=(160, 120), frames=(1, 2))
    write_frames(make_plan(read_shot(shot)), tmp_path / "frames", making=MAKING)
    assert judged(shot, tmp_path / "frames").faults == ()


@pytest.mark.parametrize(("spoilt", "owner"), [((7,), 6), ((8,), 10), ((2, 3, 9), 5)])
def test_the_frame_whose_picture_is_another_frames_is_blamed_and_that_one_is_not(
    spoilt: tuple[int, ...], owner: int, delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    picture: dict[str, np.ndarray] = {}
    rewrite(file_of(delivery, owner), picture.update)
    for frame in spoilt:
        rewrite(file_of(delivery, frame), lambda channels: channels.update({name: picture[name] for name in CHANNELS}))
    proof = proof_of(delivery)
    assert {code for code, _ in blocks(proof)} == {"frames-identical"}
    assert sorted({frame for _, (a, b) in blocks(proof) for frame in range(a, b + 1)}) == sorted(
        range(min(spoilt), max(spoilt) + 1) if len(blocks(proof)) == 1 else spoilt
    )
    assert all(f"the very picture of frame {owner} beside" in fault.message for fault in proof.faults)
    assert set(proof.rendered_frames) == set(range(1, 13)) - set(spoilt)


def test_frames_of_one_picture_that_is_neither_ones_are_one_fault(
    delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    noise = np.random.default_rng(1).uniform(0, 1, (180, 240)).astype(np.float32)
    for frame in (4, 9):
        rewrite(file_of(delivery, frame), lambda channels: channels.update(dict.fromkeys(CHANNELS, noise)))
    proof = proof_of(delivery)
    assert blocks(proof) == [("frames-identical", (4, 9))]
    assert "frames 4,9 have the very same picture" in proof.faults[0].message
    assert "whose it is cannot be told" in proof.faults[0].message


@pytest.mark.parametrize("by_px", [12, 25, 60])
def test_a_picture_that_was_shifted_beside_its_passes_is_given_no_change_that_changes_nothing(
    by_px: int, delivery: Path, proof_of: Callable[..., Proof]
) -> None:
    regrade(file_of(delivery, 8), lambda light: np.roll(light, by_px, axis=1))
    for fault in proof_of(delivery).faults:
        assert fault.code in {"colours-differ", "frame-hole"}
        assert "1 : 1 : 1" not in fault.message


def test_colours_that_differ_in_some_places_alone_are_told_as_that() -> None:
    rng = np.random.default_rng(5)
    light = rng.uniform(0.2, 0.8, (300, 3))
    seen = light.copy()
    seen[:100] = rng.uniform(0.2, 0.8, (100, 3))
    change = change_of(light, seen, behind=np.zeros_like(light))
    assert change is not None
    assert change.kind == PARTLY
    assert change.amount == pytest.approx(1 / 3, abs=0.05)


def test_a_slate_in_every_channel_is_a_frame_of_one_colour(delivery: Path, proof_of: Callable[..., Proof]) -> None:
    def slate(channels: dict[str, np.ndarray]) -> None:
        for name, pixels in channels.items():
            channels[name] = np.full_like(pixels, 1.0 if name.endswith(".A") else 0.18)

    for frame in (3, 4):
        rewrite(file_of(delivery, frame), slate)
    proof = proof_of(delivery)
    assert blocks(proof) == [("frame-one-colour", (3, 4))]
    assert "frames 3-4 are of one colour all over (0.18, 0.18, 0.18)" in proof.faults[0].message


def test_art_of_one_colour_that_fills_the_frame_moves_without_a_change_of_picture(tmp_path: Path) -> None:
    schedule = "part,axis,first,last,from,to,law,slow_out,slow_in\nsky,east,1,4,0,-40,steady,,\n"
    half = np.full((240, 320, 4), (90, 120, 200, 255), dtype=np.uint8)
    # striped where no frame shows it
    half[:, :20] = (10, 10, 10, 255)
    (tmp_path / "art").mkdir()
    Image.fromarray(half).save(tmp_path / "art/sky.png")
    shot = stack(
        tmp_path,
        [Glass("sky", 100.0, width=900.0, art="art/sky.png")],
        frame_px=(160, 120),
        frames=(1, 4),
        schedule=schedule,
    )
    write_frames(make_plan(read_shot(shot)), tmp_path / "frames", making=MAKING)
    assert judged(shot, tmp_path / "frames").faults == ()


def test_what_is_said_of_pictures_goes_into_the_results(delivery: Path, shot: Path, tmp_path: Path) -> None:
    from underglass_headless import cli

    regrade(file_of(delivery, 5), lambda light: 2 * light)
    out = tmp_path / "proof"
    assert cli.run(["prove", str(shot), "--frames-from", str(delivery), "--out", str(out)]) == 1
    record = json.loads((out / "proof.json").read_text(encoding="utf-8"))
    assert [fault["code"] for fault in record["faults"]] == ["colours-differ"]
