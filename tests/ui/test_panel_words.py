# SPDX-License-Identifier: GPL-3.0-or-later
"""What the panels write: readings to the counter's last figure, the same words for every frame as for it alone."""

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from underglass.plan import counter as counting
from underglass.plan import make_plan
from underglass.plan.findings import CODES, Finding
from underglass.plan.findings.seen_art import edge_reach, look
from underglass.plan.headings import HOLD
from underglass.revise import restacked_shot
from underglass.shot import CAMERA, Place, ShotError
from underglass.shot.files import read_shot
from underglass.shot.units import METRES_PER_UNIT
from underglass.ui import figures, panel_words, proof_lines, shot_versions, touched_words
from underglass.ui.finding_groups import SHORT, groups_of


@pytest.fixture(scope="module")
def estuary(request: pytest.FixtureRequest):
    return make_plan(read_shot(request.config.rootpath / "scenes" / "estuary" / "shot.toml"))


@pytest.fixture(scope="module")
def said(estuary):
    return panel_words.words_of(estuary, edge_reach(estuary, look(estuary)))


def with_counter(shot, step):
    return replace(shot, stand=replace(shot.stand, counter=step))


@pytest.mark.parametrize(
    ("inches", "before", "step", "reads", "steps"),
    [
        (1.25, 1.0, 0.01, "1.25", "+0.25"),
        (-0.004, 0.0, 0.01, "0.00", "+0.00"),
        (1.37, 1.0, 0.25, "1.25", "+0.25"),
        (2, 3, 1, "2", "-1"),
    ],
)
def test_a_counter_reads_whole_steps_of_its_own_as_the_sheets_do(estuary, inches, before, step, reads, steps):
    inch = METRES_PER_UNIT["in"]
    shot = with_counter(replace(estuary.shot, units="in"), step * inch)
    shown = figures.counter("height", shot, part=CAMERA)
    assert shown.reads(inches * inch) == reads
    assert shown.steps(inches * inch, before=before * inch) == steps
    name = shot.names[0]
    track = np.array([before * inch, inches * inch])
    on_sheet = counting.counted(
        track, part=name, axis="height", counter=counting.counter_of(shot, part=name, axis="height")
    )
    assert on_sheet.counter.text(int(on_sheet.counts[1])) == reads


def test_an_axis_wired_in_reverse_reads_with_the_sign_of_its_counter(estuary):
    name = estuary.names[0]
    shot = replace(estuary.shot, stand=replace(estuary.shot.stand, reversed=((name, "east"),)))
    inch = METRES_PER_UNIT["in"]
    wired = figures.counter("east", shot, part=name)
    assert (wired.reads(1.5 * inch), wired.steps(1.5 * inch, before=1.0 * inch)) == ("-1.50", "-0.50")
    assert figures.counter("east", shot, part=estuary.names[1]).reads(1.5 * inch) == "1.50"


def test_the_dashed_square_goes_by_the_edges_that_a_level_covers(estuary):
    """The first level is far narrower than the frame: what it does not have to reach is not held against it."""
    first = replace(estuary.shot.levels[0], art_width=estuary.shot.levels[0].art_width / 100)

    def covered(covers):
        plan = make_plan(replace(estuary.shot, levels=(replace(first, covers=covers), *estuary.shot.levels[1:])))
        levels = panel_words.words_of(plan, edge_reach(plan, look(plan))).levels
        # the rearmost says nothing of what it covers: it covers all four edges
        assert plan.shot.levels[-1].covers is None
        assert levels[-1].covered == [True] * len(plan.frames)
        return levels[0].covered

    frames = len(estuary.frames)
    assert covered(()) == [True] * frames
    assert covered(("left",)) == [False] * frames
    assert covered(("left", "top")) == [False] * frames


def test_a_turn_is_read_in_degrees_and_a_lens_in_millimetres(estuary):
    assert figures.counter("turn", estuary.shot, part=CAMERA).reads(np.pi / 8) == "22.5"
    assert figures.counter("focal", estuary.shot, part=CAMERA).reads(0.05) == "50.0"


def test_numbers_of_a_column_have_one_number_of_figures_and_few_characters(estuary, said):
    for row in (0, 60, 143):
        for column in (
            [level.height(row) for level in said.levels],
            [level.art for level in said.levels],
            [level.field(row) for level in said.levels],
        ):
            assert len({text.partition(".")[2].__len__() for text in column}) == 1
            assert max(map(len, column)) <= panel_words.MOST_CHARACTERS


def test_no_number_of_a_column_is_longer_than_its_widest(estuary, said):
    for row in range(len(estuary.frames)):
        assert all(len(level.height(row)) <= len(said.widest["height"]) for level in said.levels)
        assert all(len(level.field(row)) <= len(said.widest["field"]) for level in said.levels)
        for part in said.parts:
            for moving in part.moving:
                reading, step, _ = moving.at(row)
                assert len(reading) <= len(said.widest["reading"])
                assert len(step) <= len(said.widest["step"])


def test_the_list_of_levels_has_height_art_and_field_of_the_frame(estuary, said):
    row, inch = 60, METRES_PER_UNIT[estuary.shot.units]
    for column, level in enumerate(said.levels):
        height, art, field = (float(text) for text in (level.height(row), level.art, level.field(row)))
        assert height == pytest.approx(estuary.tracks.levels["height"][row, column] / inch, abs=0.006)
        assert art == pytest.approx(estuary.shot.levels[column].art_width / inch, abs=0.006)
        # what the camera takes in there: the frame's pixels over the pixels of a metre
        assert field == pytest.approx(estuary.shot.camera.frame_px[0] / estuary.scale[row, column] / inch, abs=0.006)


def test_what_moves_has_a_reading_a_step_and_a_heading_and_the_rest_is_said_to_be_still(estuary, said):
    by_name = {part.name: part for part in said.parts}
    assert list(by_name) == [CAMERA, *estuary.names]
    lens = next(moving for moving in by_name[CAMERA].moving if moving.axis == "height")
    track, inch = estuary.tracks.camera["height"], METRES_PER_UNIT[estuary.shot.units]
    for row in (1, 60, 143):
        reading, step, heading = lens.at(row)
        assert float(reading) == pytest.approx(track[row] / inch, abs=0.01)
        if heading == HOLD:
            assert step == ""
        else:
            assert float(step) == pytest.approx((track[row] - track[row - 1]) / inch, abs=0.01)
            assert heading == ("up" if track[row] > track[row - 1] else "down")
    assert lens.at(0)[1:] == ("", HOLD)
    assert by_name[CAMERA].still.startswith("camera: ")
    for part in said.parts:
        moving = {moving.word for moving in part.moving}
        assert not any(f" {word} " in part.still for word in moving)


def test_the_stand_says_where_the_lens_is_and_what_it_is_focused_at(estuary, said):
    place, focal, focus = said.lens.at(60)
    inch = METRES_PER_UNIT[estuary.shot.units]
    assert place == f"lens at {estuary.tracks.camera['height'][60] / inch:.2f} in"
    assert focal == "50 mm"
    assert focus == f"focused at {estuary.focus_distance[60] / inch:.2f} in"


def test_every_move_of_the_schedule_has_a_line(estuary, said):
    assert [move.frames for move in said.moves] == [(move.first, move.last) for move in estuary.shot.schedule]
    assert all(move.law.value in told.law for move, told in zip(estuary.shot.schedule, said.moves, strict=True))


def found(code, severity, level, frames):
    return Finding(code, severity, level, "", frames, 1.0, 0.5, "px", f"{level} {code}", "do something")


def test_findings_are_told_a_line_a_kind_gravest_first_the_short_words_first():
    groups = groups_of(
        [
            found("soft", "note", "reeds", (1, 144)),
            found("coarse-art", "warn", "church", (2, 96)),
            found("soft", "note", "sky", (5, 20)),
            found("off-art", "block", "sky", (3, 3)),
        ]
    )
    assert [group.titles[0] for group in groups] == [
        "sky: bare edge, frame 3",
        "church: art too coarse, frames 2–96",
        "Soft: 2 levels, frames 1–144",
    ]
    assert [len(group.entries) for group in groups] == [1, 1, 2]
    assert [(entry.name, entry.frames, entry.first) for entry in groups[2].entries] == [
        ("reeds", "frames 1–144", 1),
        ("sky", "frames 5–20", 5),
    ]
    assert all(len(short) < len(full) for group in groups for full, short in pairwise(group.titles))


def test_every_kind_of_finding_has_short_words():
    assert set(SHORT) == set(CODES)
    assert max(map(len, SHORT.values())) <= 16


@pytest.mark.parametrize(
    ("key", "thing"),
    [
        ("level.card A.height", "card A height"),
        ("level.card A", "card A"),
        ("level.st. mary.art_width", "st. mary width of the art"),
        ("camera.focal_mm", "camera lens"),
        ("schedule:camera.height@1", "camera height"),
        ("fps", "frame rate"),
        ("", ""),
    ],
)
def test_an_error_names_what_was_touched_and_no_line_of_a_file(key, thing):
    error = ShotError(Place(Path("/a/shot.toml"), 7, key), "is tilted", "lay it flat")
    said = touched_words.said_of_the_scene(error)
    assert said == (f"{thing}: is tilted; lay it flat" if thing else "is tilted; lay it flat")
    assert "shot.toml" not in said


def test_two_versions_that_are_alike_have_no_difference(estuary):
    assert shot_versions.compare(estuary, estuary, at=shot_versions.FIRST) == ()
    assert shot_versions.compare(estuary, estuary, at=shot_versions.LAST) == ()


def test_two_versions_show_readings_and_sizes_of_what_differs_on_the_frame(estuary):
    inch = METRES_PER_UNIT[estuary.shot.units]
    levels = {axis: track.copy() for axis, track in estuary.tracks.levels.items()}
    column = estuary.names.index("village")
    levels["height"][-1, column] += inch
    other = make_plan(estuary.shot, tracks=replace(estuary.tracks, levels=levels))
    assert shot_versions.compare(estuary, other, at=shot_versions.FIRST) == ()
    (part,) = shot_versions.compare(estuary, other, at=shot_versions.LAST)
    assert part.name == "village"
    by_word = {line.word: (float(line.here), float(line.there)) for line in part.lines}
    assert by_word["height"][1] - by_word["height"][0] == pytest.approx(1.0, abs=0.011)
    here, there = by_word["size px"]
    # nearer by an inch: as much larger as the distance is shorter
    distance = float(estuary.distance[-1, column])
    assert there / here == pytest.approx(distance / (distance - inch), rel=1e-4)


def test_two_versions_of_other_frames_and_levels_say_so(estuary):
    shot = restacked_shot.without_level(replace(estuary.shot, expectations=()), "village")
    parts = {part.name: part.lines for part in shot_versions.compare(estuary, make_plan(shot), at=shot_versions.FIRST)}
    assert ("levels", "8", "7") in [(line.word, line.here, line.there) for line in parts["shot"]]
    assert parts["village"] == (shot_versions.Line("level", "there", ""),)


def test_a_step_that_no_counter_shows_is_none(estuary):
    inch = METRES_PER_UNIT[estuary.shot.units]
    counter = figures.counter("height", with_counter(estuary.shot, 0.01 * inch), part=CAMERA)
    moving = panel_words.Moving("height", "height", [10 * inch, 9.9999 * inch, 9.9 * inch], counter)
    assert moving.at(1) == ("10.00", "", HOLD)
    assert moving.at(2) == ("9.90", "-0.10", "down")


def test_a_proof_says_its_first_fault_once_and_notes_are_no_faults():
    lines = (
        "fails: card A is 2 mm too high, and 1 more fault.",
        "  fault: card A is 2 mm too high.",
        "  fault: card B is too wide.",
        "  note: card C shows little",
    )
    said = proof_lines.said_once(lines)
    assert said == (lines[0], *lines[2:])
    assert [proof_lines.is_fault(line) for line in said] == [True, True, False]
    assert proof_lines.said_once(()) == ()
