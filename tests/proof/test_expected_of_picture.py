# SPDX-License-Identifier: GPL-3.0-or-later
"""What the shot file expects of the picture is listed, met or not."""

from dataclasses import replace

import jsonschema

from report import synthetic
from underglass.proof.expected_of_picture import expectations, expectations_line
from underglass.proof.proof_facts import Proof
from underglass.proof.proof_json import proof_record
from underglass.proof.proof_summary import summary_lines
from underglass.shot.model import Expectation, Heading
from underglass_headless.report.proof_page import proof_page
from underglass_headless.report.schemas import proof_schema


def expecting(*wanted: Expectation) -> Proof:
    proof = synthetic.passing()
    shot = replace(proof.plan.shot, expectations=wanted)
    return replace(proof, plan=replace(proof.plan, shot=shot))


SKY_HOLDS = Expectation("sky", holds=True)
REEDS_EAST = Expectation("reeds", heads=Heading.EAST, between=(1, 24))


def test_each_is_said_in_words_with_whether_the_plan_meets_it():
    first, second = expectations(expecting(SKY_HOLDS, REEDS_EAST))
    assert (first.words, first.met) == ("sky holds its size, from frame 1 to 48", True)
    assert (second.words, second.met) == ("reeds heads east, from frame 1 to 24", False)
    # what a plan does is the schedule's doing, not a scene's
    assert "should head east but, going by the schedule, ends" in second.message


def test_one_line_counts_them():
    assert expectations_line(expecting()) == ""
    one = "Going by the schedule, 1 expectation of the shot file holds."
    two = "Going by the schedule, 2 expectations of the shot file hold."
    half = "Going by the schedule, 1 of 2 expectations of the shot file holds."
    assert expectations_line(expecting(SKY_HOLDS)) == one
    assert expectations_line(expecting(SKY_HOLDS, SKY_HOLDS)) == two
    assert expectations_line(expecting(SKY_HOLDS, REEDS_EAST)) == half
    assert one in summary_lines(expecting(SKY_HOLDS))


def test_the_page_and_the_record_list_them():
    proof = expecting(SKY_HOLDS)
    assert "sky holds its size, from frame 1 to 48" in proof_page(proof)
    record = proof_record(proof)
    assert [(one["level"], one["kind"], one["met"]) for one in record["expectations"]] == [("sky", "holds", True)]
    jsonschema.validate(record, proof_schema())
