# SPDX-License-Identifier: GPL-3.0-or-later
"""What a terminal says of a proof."""

from dataclasses import replace
from pathlib import Path

from report import synthetic
from underglass.proof.proof_facts import FAIL
from underglass.proof.proof_summary import summary_lines, verdict_line, worst_measurement


def test_a_pass_says_what_was_looked_at_and_how_near_the_limit_it_came():
    line = verdict_line(synthetic.passing())
    assert line.startswith("“Estuary at first light” passes: all 5 levels are where planned on all 48 frames")
    assert line.endswith("px of the plan in the pixels.")


def test_a_failure_says_which_level_from_which_frame_which_way_and_how_far():
    assert verdict_line(synthetic.failing()) == (
        "“Estuary at first light” fails: reeds is 0.25 in too high from frame 20 to 48: up to 4.31 px on screen,"
        " and 1 more fault."
    )


def test_every_fault_has_a_line_and_then_come_the_worst_error_and_the_results():
    proof = synthetic.failing()
    lines = summary_lines(proof, results=Path("out/proof"))
    assert lines[1] == "  fault: reeds is 0.25 in too high from frame 20 to 48: up to 4.31 px on screen"
    assert lines[3].startswith("  note: the scene also renders")
    worst = worst_measurement(proof.measurements)
    assert lines[4] == "7 of 48 frames measured in pixels."
    assert lines[5] == (f"Worst in the pixels: reeds on frame 48, {worst.error_px:.3f} ± 0.002 px (0.05 px allowed).")
    assert lines[6:] == ["Results: out/proof"]


def test_how_many_frames_were_measured_and_how_many_finely_is_said():
    proof = synthetic.passing()
    every = replace(proof, rendered_frames=tuple(range(1, 49)), test_frames=proof.rendered_frames)
    assert "48 of 48 frames measured in pixels, 7 of them on a fine grid." in summary_lines(every)


def test_a_name_cannot_send_codes_to_the_terminal_or_start_a_line():
    names = ("\x1b[31mred", "two\nlines", "over\u202ewritten", "bell\x07", "\u2028")
    lines = summary_lines(synthetic.failing(names))
    assert all(line.isprintable() for line in lines)


def test_a_proof_without_rendered_frames_still_says_where_things_stand():
    line = verdict_line(replace(synthetic.passing(), measurements=(), rendered_frames=()))
    assert line.endswith("none came into the rendered frames.")


def test_a_failure_that_no_fault_names_says_which_levels_are_out():
    proof = replace(synthetic.failing(), faults=())
    assert verdict_line(proof).endswith("fails: reeds and boat are not where planned in the pixels.")
    nothing = replace(synthetic.passing(), verdict=FAIL)
    assert verdict_line(nothing).endswith("fails: a level is out of place in the scene.")
