# SPDX-License-Identifier: GPL-3.0-or-later
"""Drawings held under a move on ones."""

from dataclasses import replace

import pytest

from plan.findings.small_stand import GROUND, NEAR, found, shot_of, the_one
from underglass.shot import NO_DRAWING, Drawings, Law, Move, Shot

CEL = replace(NEAR, art="near_{drawing}.png")
SLIDE = Move("near", "east", 1, 49, 0.0, 0.03, Law.SINE)


def drawn(hold: int, *, on: int = 1, moves: tuple[Move, ...] = (SLIDE,)) -> Shot:
    frames = tuple(range(1, 50, hold))
    drawings = Drawings(("near",), frames, tuple((str(index % 2),) for index in range(len(frames))))
    return shot_of(*moves, levels=(replace(CEL, on=on), GROUND), drawings=drawings)


@pytest.mark.parametrize("hold", [2, 3, 4])
def test_drawings_on_twos_on_a_level_that_moves_on_ones_are_noted(hold: int) -> None:
    finding = the_one(drawn(hold), "held-drawing")
    assert (finding.severity, finding.level, finding.value, finding.limit) == ("note", "near", hold, 1.0)
    assert f"on = {hold}" in finding.remedy
    first, last = finding.frames
    assert first <= 4
    assert last >= 46


@pytest.mark.parametrize("shot", [drawn(1), drawn(2, on=2), drawn(2, moves=())], ids=["ones", "both twos", "rest"])
def test_drawings_and_moves_that_go_together_are_not(shot: Shot) -> None:
    assert found(shot) == []


def test_a_level_whose_drawing_is_taken_away_is_not_looked_at_meanwhile() -> None:
    zip_pan = Move("near", "east", 11, 21, 0.0, 0.2, Law.SINE)
    shown = drawn(48, moves=(zip_pan,))
    gone = replace(shown, drawings=Drawings(("near",), (1, 11, 22), (("1",), (NO_DRAWING,), ("1",))))
    assert "strobing" in [finding.code for finding in found(shown)]
    assert "strobing" not in [finding.code for finding in found(gone)]


def test_a_pose_that_is_carried_about_is_not_either() -> None:
    assert found(drawn(5)) == []
    assert found(drawn(48)) == []
