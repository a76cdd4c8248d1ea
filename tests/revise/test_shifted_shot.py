# SPDX-License-Identifier: GPL-3.0-or-later
"""What other frames take from a shot: said side by side, and the frames on which nothing is taken."""

from dataclasses import replace

import pytest

import small_shots
from underglass.revise.shifted_shot import going, whole_frames
from underglass.shot.files import read_shot
from underglass.shot.model import Exposure, FrameTable


@pytest.fixture(scope="module")
def shot(tmp_path_factory):
    return read_shot(small_shots.line_up(tmp_path_factory.mktemp("line-up")))


def test_frames_that_leave_nothing_out_say_nothing(shot):
    assert going(shot, (1, 25)) == ()
    assert going(shot, (-10, 40)) == ()
    assert whole_frames(shot, (-10, 40)) == (-10, 40)


def test_each_side_says_which_frames_go_and_what_moves_there(shot):
    later = replace(shot, schedule=tuple(move for move in shot.schedule if move.axis in ("east", "turn")))
    assert going(later, (1, 18)) == ("frames 19–25 go, with what card A east and card B turn do there",)
    assert going(later, (4, 25)) == ("frames 1–3 go, with what card B turn does there",)
    assert whole_frames(later, (4, 18)) == (1, 25)


def test_drawings_that_no_frame_shows_any_more_are_said(shot):
    still = replace(shot, schedule=())
    # drawings change on frames 9 and 17
    assert going(still, (1, 16)) == ("frames 17–25 go, with what the drawings of heron do there",)
    assert going(still, (1, 17)) == ()
    assert going(still, (9, 25)) == ("frames 1–8 go, with what the drawings of heron do there",)
    assert going(still, (8, 25)) == ()
    assert whole_frames(still, (9, 12)) == (1, 17)


def test_rows_of_a_chart_and_a_fade_count_as_moves_do(shot):
    chart = FrameTable((("card D", "east"),), (1, 3, 12), ((0.0,), (0.01,), (0.02,)))
    still = replace(shot, schedule=(), chart=chart, drawings=replace(shot.drawings, levels=(), frames=(), rows=()))
    assert going(still, (1, 11)) == ("frames 12–25 go, with what card D east does there",)
    assert going(still, (3, 25)) == ("frames 1–2 go, with what card D east does there",)
    assert whole_frames(still, (5, 6)) == (1, 12)
    faded = replace(still, chart=FrameTable((), (), ()), exposures=(Exposure("glow", fade=((2, 0.0), (20, 1.0))),))
    assert going(faded, (1, 19)) == ("frames 20–25 go, with what the fade of glow does there",)
    assert whole_frames(faded, (5, 6)) == (2, 20)
