# SPDX-License-Identifier: GPL-3.0-or-later
"""File names that are not UTF-8: read as others are, and spelled so that every report and terminal can hold them."""

import csv
import json
import os
import shutil
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from delivered.made_frames import rewrite
from underglass_headless import cli
from underglass_headless.exr.read_exr import read_exr
from underglass_headless.report.schemas import proof_schema

NOT_UTF8 = os.fsdecode(b"caf\xe9.")


def test_names_that_are_not_utf8_are_read_and_spelled_everywhere(
    shot: Path, delivery: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import jsonschema

    place = tmp_path / os.fsdecode(b"ren\xffder")
    place.mkdir()
    for path in delivery.iterdir():
        path.rename(place / path.name.replace("beauty.", NOT_UTF8))
    shutil.copy(place / f"{NOT_UTF8}0007.exr", place / f"{NOT_UTF8}7.exr")

    def spoil(channels: dict[str, np.ndarray]) -> None:
        channels["ViewLayer.Combined.G"][3, 4] = np.nan

    plain = tmp_path / "plain.exr"
    (place / f"{NOT_UTF8}0003.exr").rename(plain)
    rewrite(plain, spoil)
    plain.rename(place / f"{NOT_UTF8}0003.exr")
    out = tmp_path / "proof"
    assert cli.run(["prove", str(shot), "--frames-from", str(place), "--out", str(out), "--json"]) == 1
    said = capsys.readouterr()
    said.out.encode("utf-8")
    said.err.encode("utf-8")
    for line in said.out.splitlines():
        json.loads(line)
    record = json.loads((out / "proof.json").read_bytes().decode("utf-8"))
    json.dumps(record, ensure_ascii=False).encode("utf-8")
    jsonschema.validate(record, proof_schema())
    assert record["source"]["files"] == "caf□.@.exr 1-12"
    assert [(fault["code"], fault["frames"]) for fault in record["faults"]] == [
        ("frame-nan", [3, 3]),
        ("frame-doubled", [7, 7]),
    ]
    assert record["faults"][1]["message"] == "frame 7 is there 2 times: caf□.0007.exr and caf□.7.exr"
    assert len(record["rendered_frames"]) == 10
    ElementTree.parse(out / "junit.xml")
    page = (out / "index.html").read_bytes().decode("utf-8")
    assert "caf□.0007.exr" in page
    with (out / "measurements.csv").open(encoding="utf-8") as file:
        assert len(list(csv.DictReader(file))) == 40


def test_the_terminal_takes_names_that_are_not_utf8(
    shot: Path, delivery: Path, tmp_path: Path, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    place = tmp_path / os.fsdecode(b"ren\xffder")
    delivery.rename(place)
    place.joinpath("beauty.0007.exr").rename(place / "beauty.\n0007.exr")
    shutil.copy(place / "beauty.0001.exr", place / f"{NOT_UTF8}0001.exr")
    assert cli.run(["prove", str(shot), "--frames-from", str(place), "--out", str(tmp_path / "p")]) == 2
    said = capfdbinary.readouterr()
    assert "holds 2 sequences" in said.err.decode("utf-8")
    assert "caf□.#.exr 1" in said.err.decode("utf-8")
    pattern = place / "beauty.####.exr"
    assert cli.run(["prove", str(shot), "--frames-from", str(pattern), "--out", str(tmp_path / "p")]) == 1
    said = capfdbinary.readouterr()
    assert "frame 7 has control characters in its file name" in said.out.decode("utf-8")
    one = ["--frames-from", str(place / f"{NOT_UTF8}####.exr"), "--frames", "1", "--out", str(tmp_path / "p")]
    assert cli.run(["prove", str(shot), *one]) == 0


def test_names_that_are_not_utf8_are_read_as_others_are(delivery: Path) -> None:
    path = delivery / f"{NOT_UTF8}0001.exr"
    shutil.copy(delivery / "beauty.0001.exr", path)
    ours, other = read_exr(path), read_exr(delivery / "beauty.0001.exr")
    assert ours.texts == other.texts
    assert all((ours.channels[name].pixels == other.channels[name].pixels).all() for name in other.channels)
