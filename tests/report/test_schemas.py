# SPDX-License-Identifier: GPL-3.0-or-later
"""proof.json keeps to its schema, and the schema refuses what is no proof."""

import copy
import json
import math
from dataclasses import replace
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from report import synthetic
from underglass.proof.proof_json import proof_json, proof_record
from underglass_headless.report.schemas import proof_schema

VALIDATOR = jsonschema.Draft202012Validator(proof_schema())
PROOFS = {
    "pass": synthetic.passing(),
    "fail": synthetic.failing(),
    "hostile names": synthetic.failing(synthetic.HOSTILE),
    "a scene that was given": replace(synthetic.passing(), scene_file=Path("deep/below/given.blend")),
    "nothing rendered": replace(synthetic.passing(), measurements=(), rendered_frames=(), pictures={}, seconds={}),
}


def test_the_schema_is_a_schema():
    jsonschema.Draft202012Validator.check_schema(proof_schema())


@pytest.mark.parametrize("proof", PROOFS.values(), ids=PROOFS.keys())
def test_a_proof_keeps_to_the_schema(proof):
    VALIDATOR.validate(json.loads(proof_json(proof)))


@pytest.mark.parametrize("proof", PROOFS.values(), ids=PROOFS.keys())
def test_json_has_numbers_or_null_and_says_them_to_the_last_bit(proof):
    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is not JSON")

    read = json.loads(proof_json(proof), parse_constant=refuse)
    assert read == proof_record(proof)
    for record, measurement in zip(read["measurements"], proof.measurements, strict=True):
        assert record["planned"]["size_px"] == measurement.planned.size_px
        assert record["error_px"] == measurement.error_px
        assert ("remark" in record) == bool(measurement.remark)


def test_a_fault_without_a_number_says_null():
    fault = proof_record(synthetic.failing())["faults"][1]
    assert (fault["code"], fault["amount"], fault["error_px"]) == ("hidden", 8.0, None)


def test_files_are_named_without_the_folders_of_a_machine():
    record = proof_record(PROOFS["a scene that was given"])
    assert (record["shot"]["file"], record["scene"]) == ("shot.toml", "given.blend")
    assert record["pictures"]["1"] == "frames/frame-0001.png"


def test_the_scene_is_summed_up_a_level_at_a_time():
    errors = np.full((48, 5), 0.001)
    errors[29, 1] = 4.25
    errors[40:, 2] = math.nan
    errors[:, 3] = math.nan
    summary = proof_record(replace(synthetic.passing(), scene_error_px=errors))["scene_error_px"]
    assert summary[1] == {"level": "reeds", "worst_px": 4.25, "frame": 30, "missing_frames": 0}
    assert summary[2]["missing_frames"] == 8
    assert summary[3] == {"level": "far hills", "worst_px": None, "frame": None, "missing_frames": 48}


BROKEN = {
    "another format": lambda record: record.update(format=2),
    "no verdict": lambda record: record.pop("verdict"),
    "a verdict of another kind": lambda record: record.update(verdict="maybe"),
    "an unknown key": lambda record: record.update(extra=1),
    "three frame sizes": lambda record: record["frame_px"].append(3),
    "half a frame": lambda record: record["rendered_frames"].append(1.5),
    "a look without a turn": lambda record: record["measurements"][0]["planned"].pop("turn"),
    "an error as text": lambda record: record["measurements"][0].update(error_px="0.1"),
    "a negative uncertainty": lambda record: record["measurements"][0].update(uncertainty_px=-0.1),
    "an error of nothing": lambda record: record["measurements"][0].update(measured=None),
    "an empty remark": lambda record: record["measurements"][0].update(remark=""),
    "a fault of unknown weight": lambda record: record["faults"][0].update(severity="bad"),
    "a fault that says nothing": lambda record: record["faults"][0].update(message=""),
    "a pass with a fault that blocks": lambda record: record.update(verdict="pass"),
    "a picture of no frame": lambda record: record["pictures"].update(first="a.png"),
    "a unit that no stand has": lambda record: record["shot"].update(units="ft"),
    "a level twice": lambda record: record["shot"]["levels"].append("reeds"),
}


@pytest.mark.parametrize("breaks", BROKEN.values(), ids=BROKEN.keys())
def test_what_is_no_proof_is_refused(breaks):
    record = copy.deepcopy(proof_record(synthetic.failing()))
    assert VALIDATOR.is_valid(record)
    breaks(record)
    assert not VALIDATOR.is_valid(record)
