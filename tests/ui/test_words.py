"""What the panels write: readings to the counter's last figure, the same words for every frame as for it alone."""

from dataclasses import replace

import numpy as np
import pytest

from underglass.plan import counting, make_plan
from underglass.plan.findings.sight import edge_reach, look
from underglass.plan.headings import HOLD
from underglass.shot import CAMERA, read_shot
from underglass.shot.units import METRES_PER_UNIT
from underglass.ui import figures, words


@pytest.fixture(scope="module")
def estuary(request: pytest.FixtureRequest):
    return make_plan(read_shot(request.config.rootpath / "scenes" / "estuary" / "shot.toml"))


@pytest.fixture(scope="module")
def said(estuary):
    return words.words_of(estuary, edge_reach(estuary, look(estuary)))


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


def test_a_turn_is_read_in_degrees_and_a_lens_in_millimetres(estuary):
    assert figures.counter("turn", estuary.shot, part=CAMERA).reads(np.pi / 8) == "22.5"
    assert figures.counter("focal", estuary.shot, part=CAMERA).reads(0.05) == "50.0"


def test_a_number_loses_figures_where_it_would_be_longer_than_its_place():
    assert figures.brief(8.354, 3, most=5) == "8.354"
    assert figures.brief(17.2354, 3, most=5) == "17.24"
    assert figures.brief(1234.56, 3, most=5) == "1235"


def test_the_list_of_levels_has_height_art_and_field_of_the_frame(estuary, said):
    row, inch = 60, METRES_PER_UNIT[estuary.shot.units]
    for column, level in enumerate(said.levels):
        height, art, field = (float(text) for text in level.at(row))
        assert height == pytest.approx(estuary.tracks.levels["height"][row, column] / inch, abs=0.05)
        assert art == pytest.approx(estuary.shot.levels[column].art_width / inch, abs=0.5)
        # what the camera takes in there: the frame's pixels over the pixels of a metre
        assert field == pytest.approx(estuary.shot.camera.frame_px[0] / estuary.scale[row, column] / inch, abs=0.5)


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
    assert by_name[CAMERA].still.startswith("still: ")
    for part in said.parts:
        moving = {moving.word for moving in part.moving}
        assert not any(f" {word} " in part.still for word in moving)


def test_the_stand_says_where_the_lens_is_and_what_it_is_focused_at(estuary, said):
    place, focus = said.lens.at(60)
    inch = METRES_PER_UNIT[estuary.shot.units]
    assert place == f"lens at {estuary.tracks.camera['height'][60] / inch:.2f} in, 50 mm,"
    assert focus == f"focused at {estuary.focus_distance[60] / inch:.2f} in"


def test_every_move_of_the_schedule_has_a_line(estuary, said):
    assert [move.frames for move in said.moves] == [(move.first, move.last) for move in estuary.shot.schedule]
    assert all(move.law.value in told.line for move, told in zip(estuary.shot.schedule, said.moves, strict=True))
