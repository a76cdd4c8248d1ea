# SPDX-License-Identifier: GPL-3.0-or-later
"""Building replaces what an earlier build left and leaves everything else alone."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import small_shots
from small_shots import Glass

pytestmark = pytest.mark.bpy


@pytest.fixture(scope="module")
def said(tmp_path_factory: pytest.TempPathFactory, run_in_blender: Callable[..., Any]) -> dict[str, Any]:
    """Return what Blender answers after a shot was built several times beside other people's things."""
    folder = tmp_path_factory.mktemp("rebuilt")
    shot = small_shots.line_up(folder / "one")
    (folder / "two").mkdir()
    schedule = "part,axis,first,last,from,to\na,east,1,3,0,5\n"
    other = small_shots.stack(folder / "two", [Glass("a", 900.0), Glass("b", 10.0)], schedule=schedule)
    return run_in_blender(Path(__file__).with_name("rebuilding.py"), shot, other, folder / "one" / "scene.blend")


def test_building_five_times_leaves_as_much_as_building_once(said: dict[str, Any]) -> None:
    assert said["counts"] == [said["counts"][0]] * 5
    assert len(said["again"]["first"]["levels"]) == 5
    assert len(said["again"]["first"]["cameras"]) == len(said["again"]["first"]["collections"]) == 1


def test_things_of_others_stay_as_they_are(said: dict[str, Any]) -> None:
    assert said["again"]["foreign"] == said["seen"]["foreign"]
    assert said["again"]["foreign"]["linked"]
    assert said["again"]["foreign"]["borrowed"] != [""]


def test_the_stack_of_another_scene_stays_as_it_is(said: dict[str, Any]) -> None:
    assert said["again"]["second"] == said["seen"]["second"]
    assert [name for name, _ in said["again"]["second"]["levels"]] == ["a", "b"]


def test_levels_go_by_their_names_and_the_camera_films(said: dict[str, Any]) -> None:
    first = said["again"]["first"]
    assert [name for name, _ in first["levels"]] == said["names"]
    assert first["active"] == first["cameras"][0]


def test_saved_and_opened_again_the_stack_is_known_and_moves(said: dict[str, Any]) -> None:
    reopened = said["reopened"]
    assert reopened["first"] == said["again"]["first"]
    for name, planned, drawn in zip(said["names"], said["planned"], said["drawn"], strict=True):
        assert reopened["places"][name]["east"] == pytest.approx(planned, abs=1e-7)
        assert reopened["places"][name]["drawing"] == drawn
    assert said["rebuilt"] == reopened["counts"]
