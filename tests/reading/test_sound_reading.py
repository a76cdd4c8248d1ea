# SPDX-License-Identifier: GPL-3.0-or-later
"""A reading of a scene that comes from elsewhere is taken whole or refused, whatever its file claims."""

import io
import json
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from proof.readings import reading_of
from small_shots import Glass, stack
from underglass.plan import make_plan
from underglass.reading.scene_reading import SceneReading
from underglass.shot.files import read_shot


@pytest.fixture
def saved(tmp_path: Path) -> Path:
    """Return the file of a sound reading."""
    glasses = [Glass("reeds", 1000.0), Glass("sky", 100.0, width=560.0)]
    plan = make_plan(read_shot(stack(tmp_path / "shot", glasses)))
    reading_of(plan).save(tmp_path / "reading.npz")
    return tmp_path / "reading.npz"


def changed(path: Path, **arrays: Any) -> Path:
    """Put other arrays into the file; None takes one out."""
    with np.load(path) as file:
        kept = {name: array for name, array in (dict(file) | arrays).items() if array is not None}
    np.savez(path, **kept)
    return path


def words_of(path: Path) -> dict[str, Any]:
    with np.load(path) as file:
        return dict(json.loads(str(file["words"])))


def test_what_was_saved_comes_back(saved: Path) -> None:
    reading = SceneReading.load(saved)
    assert [level.level for level in reading.levels] == ["reeds", "sky"]
    assert reading.corners.shape == (3, 2, 4, 3)


@pytest.mark.parametrize(
    ("name", "array"),
    [
        ("corners", np.zeros((2, 2))),
        ("corners", np.zeros((3, 2, 4, 3), dtype=np.complex64)),
        ("hidden", np.zeros((3, 2))),
        ("frames", None),
        ("frames", np.zeros(0, dtype=np.int64)),
        ("camera_matrix", np.zeros((3, 3, 3))),
        ("things_which", np.zeros(1, dtype=np.int64)),
        ("words", np.array("[")),
        ("words", np.array("[" * 100_000)),
        ("words", np.zeros(3)),
    ],
)
def test_an_array_of_another_kind_is_refused(saved: Path, name: str, array: Any) -> None:
    with pytest.raises(ValueError, match=r"."):
        SceneReading.load(changed(saved, **{name: array}))


@pytest.mark.parametrize(
    "words",
    [
        {"levels": {}},
        {"levels": [{"level": 3}]},
        {"settings": {}},
        {"camera_facts": {"name": "camera"}},
        {"paints": []},
        {"others": [1]},
        {"origin": {"libraries": [], "scripts": [None], "expressions": 0, "built_from": []}},
        {"blender": None},
    ],
    ids=lambda words: next(iter(words)),
)
def test_words_of_another_kind_are_refused(saved: Path, words: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match="is not what it has to be"):
        SceneReading.load(changed(saved, words=np.array(json.dumps(words_of(saved) | words))))


def keys_in(words: Any, *above: str | int) -> Iterator[tuple[str | int, ...]]:
    """Yield the way to every key of ``words``, at any depth."""
    entries = words.items() if isinstance(words, dict) else enumerate(words) if isinstance(words, list) else ()
    for key, value in entries:
        if isinstance(words, dict):
            yield (*above, key)
        yield from keys_in(value, *above, key)


def test_words_that_lack_any_key_are_refused(saved: Path) -> None:
    whole = words_of(saved)
    ways = list(keys_in(whole))
    assert ("levels", 1, "drawings") in ways
    for way in ways:
        lacking = part = json.loads(json.dumps(whole))
        for key in way[:-1]:
            part = part[key]
        del part[way[-1]]
        with pytest.raises(ValueError, match="is not what it has to be"):
            SceneReading.load(changed(saved, words=np.array(json.dumps(lacking))))


def test_a_packed_array_is_refused_unread(saved: Path) -> None:
    # A thousand times its bytes would fill the memory.
    with zipfile.ZipFile(saved, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("bomb.npy", bytes(10**6))
    with pytest.raises(ValueError, match=r"'bomb\.npy' is packed"):
        SceneReading.load(saved)


def test_an_array_that_claims_more_than_is_there_is_refused(saved: Path) -> None:
    claim = io.BytesIO()
    np.lib.format.write_array_header_1_0(claim, {"descr": "<f8", "fortran_order": False, "shape": (10**15,)})
    with zipfile.ZipFile(saved, "a") as archive:
        archive.writestr("more.npy", claim.getvalue())
    with pytest.raises(ValueError, match="not as large as it says"):
        SceneReading.load(saved)
