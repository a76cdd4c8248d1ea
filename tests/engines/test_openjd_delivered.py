# SPDX-License-Identifier: GPL-3.0-or-later
"""A job that renders frames on a farm and judges them: valid by the specification's model, run by its own runner."""

import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

import small_shots
from engines.conftest import COMMAND, environment
from engines.test_openjd_proof import decoded
from small_shots import Glass
from underglass_headless import cli
from underglass_headless.blender.build_blend import build_scene
from underglass_headless.engines.openjd_delivered import delivered_template
from underglass_headless.engines.task_needs import Measures

# What takes Blender's place on a farm's machine here: its module, which does the options that the template gives it.
BLENDER = """\
#!{python}
import os, sys
import bpy
words = sys.argv[1:]
scene = bpy.context.scene
while words:
    word = words.pop(0)
    if word == "-b":
        bpy.ops.wm.open_mainfile(filepath=words.pop(0), load_ui=False)
        scene = bpy.context.scene
    elif word in ("-t", "--python-exit-code"):
        words.pop(0)
    elif word == "-o":
        scene.render.filepath = words.pop(0)
    elif word == "--python-expr":
        try:
            exec(words.pop(0), {{}})
        except Exception as error:
            print(error, flush=True)
            os._exit(1)
    elif word == "-a":
        scene.cycles.samples = 1
        {spoil}
        bpy.ops.render.render(animation=True)
    else:
        os._exit(64)
sys.stdout.flush()
os._exit(0)
"""
FRAMES = tuple(range(1, 145))


def template_of(folder: Path, **more: Any) -> dict[str, Any]:
    given = {"title": "Line-up", "shot": folder / "shot.toml", "folder": folder, "scene": folder / "a.blend"}
    return delivered_template(**given | {"frames": FRAMES, "measures": Measures((1828, 1332), 8)} | more)


@pytest.mark.parametrize(
    "more",
    [
        {},
        {"chunk": 1},
        {"chunk": 7, "pictures": False, "tolerance_px": 0.5},
        {"frames": (5,), "whole": False},
        {"frames": (1, 2, 3, 7, 9, 100), "whole": False, "chunk": 2},
        {"frames": tuple(range(1, 20_000))},
        {"title": "{{Param.Shot}} \x1b[31m\n" + "x" * 300},
        {"shot": Path("/elsewhere/night shot.toml"), "scene": Path("/elsewhere/a b.blend")},
    ],
)
def test_a_template_is_valid_by_the_reference_library(more: dict[str, Any], tmp_path: Path) -> None:
    # openjd-model, the reference library of the Open Job Description specification 2023-09
    steps = decoded(template_of(tmp_path, **more)).steps
    assert len(steps) < 100
    *parts, judge = steps
    assert judge.name == "Judge"
    assert [one.dependsOn for one in judge.dependencies] == [one.name for one in parts[1::2]]
    for render, check in zip(parts[::2], parts[1::2], strict=True):
        assert check.dependencies[0].dependsOn == render.name


def test_behind_a_part_that_is_wrong_no_more_than_four_are_rendered(tmp_path: Path) -> None:
    steps = {one["name"]: one for one in template_of(tmp_path, frames=tuple(range(1, 201)), chunk=1)["steps"]}
    waits = {name: {one["dependsOn"] for one in step.get("dependencies", ())} for name, step in steps.items()}
    renders = [name for name in steps if name.startswith("Render")]
    checks = [name for name in steps if name.startswith("Check")]
    assert len(renders) == len(checks) > 30
    assert not any(waits[name] for name in renders[:4])
    for number, check in enumerate(checks):
        lost = {check}
        while more := {name for name, needed in waits.items() if needed & lost} - lost:
            lost |= more
        # whatever a farm does with the rest, these never begin
        assert lost == {*renders[number + 4 :], *checks[number:], "Judge"}


@pytest.mark.parametrize(("chunk", "frames"), [(4, FRAMES), (1, FRAMES), (30, FRAMES), (2, (1, 2, 3, 7, 9, 100))])
def test_every_frame_is_rendered_in_one_part_and_checked_there(
    chunk: int, frames: tuple[int, ...], tmp_path: Path
) -> None:
    from openjd.model import IntRangeExpr

    steps = template_of(tmp_path, chunk=chunk, frames=frames)["steps"][:-1]
    rendered = [one["parameterSpace"]["taskParameterDefinitions"][0]["range"] for one in steps[::2]]
    assert [frame for text in rendered for frame in IntRangeExpr.from_str(text)] == sorted(frames)
    arguments = [one["script"]["actions"]["onRun"]["args"] for one in steps[1::2]]
    assert [words[words.index("--frames") + 1] for words in arguments] == rendered
    places = [words[words.index("--out") + 1] for words in arguments]
    assert len(set(places)) == len(places), "what one part came to is kept apart from the others"


def test_a_farm_that_copies_files_takes_the_whole_folder_of_the_shot_along(tmp_path: Path) -> None:
    parameters = template_of(tmp_path, shot=tmp_path / "shot" / "night.toml")["parameterDefinitions"]
    flow = {one["name"]: (one["objectType"], one["dataFlow"]) for one in parameters if one["type"] == "PATH"}
    assert flow == {
        "Shot": ("DIRECTORY", "IN"),
        "Scene": ("FILE", "IN"),
        "Rendered": ("DIRECTORY", "OUT"),
        "Results": ("DIRECTORY", "OUT"),
    }
    judge = template_of(tmp_path, shot=tmp_path / "shot" / "night.toml")["steps"][-1]
    assert judge["script"]["actions"]["onRun"]["args"][1] == "{{Param.Shot}}/night.toml"


def test_every_task_has_a_time_limit_and_says_what_it_needs(tmp_path: Path) -> None:
    small, large = (template_of(tmp_path, measures=Measures(*size)) for size in (((240, 180), 2), ((4096, 3112), 24)))
    for template in (small, large):
        for step in template["steps"]:
            assert step["script"]["actions"]["onRun"]["timeout"] >= 900
            needs = {one["name"]: one["min"] for one in step["hostRequirements"]["amounts"]}
            assert set(needs) == {"amount.worker.vcpu", "amount.worker.memory"}
            assert needs["amount.worker.vcpu"] >= 1
    memory = [template["steps"][0]["hostRequirements"]["amounts"][1]["min"] for template in (small, large)]
    assert 500 < memory[0] < 1000
    # 24 passes of 4096 × 3112 px of four floats are 4.7 GB by themselves
    assert memory[1] > 4.7e9 / 2**20


def test_a_judge_of_many_drawings_needs_more_memory(tmp_path: Path) -> None:
    def memory(drawings: int) -> int:
        template = template_of(tmp_path, measures=Measures((240, 180), 2, 2 * 4096 * 3112, drawings))
        return template["steps"][-1]["hostRequirements"]["amounts"][1]["min"]

    # 4 MB and a byte a pixel are kept of each, of 64 at most
    assert memory(40) - memory(2) > 38 * 16
    assert memory(64) == memory(500)


@pytest.mark.parametrize(
    "option", ["--scene=a.blend", "--samples=4", "--depth-of-field", "--every-pixel", "--full-size"]
)
def test_what_only_goes_with_own_passes_is_refused(
    option: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shot = small_shots.stack(tmp_path / "shot", [Glass("a", 900.0)])
    assert cli.run(["farm", str(shot), "-o", str(tmp_path / "job"), "--render", "x.blend", option]) == 2
    assert "cannot be used with --render: its frames are judged. See underglass farm --help." in capsys.readouterr().err


def test_the_command_writes_a_template_and_says_how_to_run_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shot = small_shots.stack(tmp_path / "a shot; $x", [Glass("a", 900.0)], frames=(1, 30))
    scene = tmp_path / "scene.blend"
    scene.write_bytes(b"BLENDER-v500")
    assert cli.run(["farm", str(shot), "-o", str(tmp_path / "job"), "--render", str(scene)]) == 0
    told = capsys.readouterr().out
    assert "30 frames, 4 a task, checked in 2 parts; then a judge" in told
    assert f"-p 'Shot={shot.parent.resolve()}' -p Scene={scene}" in told
    names = [step.name for step in decoded(json.loads((tmp_path / "job" / "template.json").read_text())).steps]
    assert names == ["Render 1-24", "Check 1-24", "Render 25-30", "Check 25-30", "Judge"]


# -- run by openjd-cli's own runner ------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def shot(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the shot.toml of two levels and eight frames, its scene with proof passes beside it."""
    folder = tmp_path_factory.mktemp("it's a night shot; $x")
    schedule = "part,axis,first,last,from,to,law,slow_out,slow_in\na,east,1,8,0,7,steady,,\n"
    glasses = [Glass("a", 900.0, width=40.0), Glass("b", 100.0, width=500.0)]
    shot_file = small_shots.stack(folder, glasses, frame_px=(240, 180), frames=(1, 8), schedule=schedule)
    build_scene(shot_file, output=folder / "scene.blend", proof_passes=True)
    return shot_file


def run_job(
    shot: Path, folder: Path, *, spoil: str = "pass", **parameters: object
) -> "subprocess.CompletedProcess[str]":
    """Describe the job in parts of one frame a task, and run all of it; ``spoil`` is done before each render."""
    programs = folder / "bin"
    programs.mkdir(parents=True)
    (programs / "underglass").write_text(f'#!/bin/sh\nexec {" ".join(COMMAND)} "$@"\n')
    (programs / "blender").write_text(BLENDER.format(python=sys.executable, spoil=spoil))
    for program in programs.iterdir():
        program.chmod(0o755)
    scene = shot.parent / "scene.blend"
    assert cli.run(["farm", str(shot), "-o", str(folder / "job"), "--render", str(scene), "--chunk", "1"]) == 0
    said = {"Shot": shot.parent, "Scene": scene, "Blender": programs / "blender", "Underglass": programs / "underglass"}
    given = [word for name, value in (said | parameters).items() for word in ("-p", f"{name}={value}")]
    words = [sys.executable, "-m", "openjd", "run", str(folder / "job" / "template.json"), *given]
    return subprocess.run(
        [*words, "--step", "Judge", "--run-dependencies"],
        capture_output=True,
        text=True,
        check=False,
        env=environment(),
        timeout=280,
    )


@pytest.mark.engines
@pytest.mark.bpy
@pytest.mark.render
class TestRun:
    def test_clean_frames_are_rendered_checked_in_parts_and_pass(self, shot: Path, tmp_path: Path) -> None:
        done = run_job(shot, tmp_path)
        assert done.returncode == 0, done.stdout[-3000:]
        frames = sorted(path.name for path in (tmp_path / "job" / "frames").iterdir())
        assert frames == [f"beauty.{frame:04d}.exr" for frame in range(1, 9)]
        proofs = tmp_path / "job" / "proof"
        verdicts = {
            name: json.loads((proofs / name / "proof.json").read_text()) for name in (".", "checks/1-6", "checks/7-8")
        }
        assert [one["verdict"] for one in verdicts.values()] == ["pass"] * 3
        assert [len(one["rendered_frames"]) for one in verdicts.values()] == [8, 6, 2]
        assert "openjd_progress: 100.0" in done.stdout

    def test_a_bad_part_stops_the_job_with_one_line_that_says_which_frame_and_why(
        self, shot: Path, tmp_path: Path
    ) -> None:
        # somebody's script on that machine hides a level on one frame
        spoil = 'bpy.data.objects["a"].hide_render = scene.frame_start == 3'
        done = run_job(shot, tmp_path, spoil=spoil)
        assert done.returncode != 0
        failed = [line for line in done.stdout.splitlines() if "openjd_fail: " in line]
        assert len(failed) == 1, done.stdout[-3000:]
        assert "a should be in the picture on frame 3, but none of its pixels are" in failed[0]
        assert not (tmp_path / "job" / "proof" / "proof.json").exists(), "the judge had nothing to do any more"

    def test_a_scene_without_proof_passes_stops_the_job_before_anything_is_rendered(
        self, shot: Path, tmp_path: Path
    ) -> None:
        plain = tmp_path / "plain.blend"
        build_scene(shot, output=plain)
        done = run_job(shot, tmp_path, Scene=plain)
        assert done.returncode != 0
        failed = [line.partition("openjd_fail: ")[2] for line in done.stdout.splitlines() if "openjd_fail: " in line]
        assert failed == ["the scene has no proof passes to judge by; build it with --proof-passes"], done.stdout[
            -2000:
        ]
        assert not list((tmp_path / "job" / "frames").glob("*.exr"))

    def test_a_scene_that_is_not_there_stops_the_job(self, shot: Path, tmp_path: Path) -> None:
        copy = tmp_path / "shot"
        shutil.copytree(shot.parent, copy)
        spoilt = run_job(copy / shot.name, tmp_path, Scene=tmp_path / "gone.blend")
        assert spoilt.returncode != 0
        assert not (tmp_path / "job" / "proof").exists()
