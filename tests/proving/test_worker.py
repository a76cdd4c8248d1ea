# SPDX-License-Identifier: GPL-3.0-or-later
"""When Blender fails, one line says why, and nothing that was there is harmed."""

import importlib.util
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import small_shots
from engines import poison
from small_shots import Glass
from underglass.proof.proof_facts import PASS, Proof
from underglass.shot import UnderglassError
from underglass_headless.blender import blender_process
from underglass_headless.blender.blender_process import BlenderError, SceneFileError
from underglass_headless.blender.build_blend import build_scene
from underglass_headless.proving import prove_shot
from underglass_headless.proving.prove_shot import Options, prove
from underglass_headless.results import ResultError

pytestmark = pytest.mark.bpy

ProofOf = Callable[..., Proof]


@pytest.fixture(scope="module")
def shot(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a small shot.toml with its scene, scene.blend, beside it."""
    folder = tmp_path_factory.mktemp("shot")
    shot_file = small_shots.stack(folder, [Glass("a", 900.0), Glass("b", 100.0, width=300.0)])
    build_scene(shot_file, output=folder / "scene.blend")
    return shot_file


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list["subprocess.Popen[bytes]"]:
    """Return a list that every process started from here is put into."""
    processes: list[subprocess.Popen[bytes]] = []
    start = subprocess.Popen

    def remember(*args: Any, **kwargs: Any) -> "subprocess.Popen[bytes]":
        processes.append(start(*args, **kwargs))
        return processes[-1]

    monkeypatch.setattr(blender_process.subprocess, "Popen", remember)
    return processes


def one_line(error: BaseException) -> str:
    """Return what an error says, which must be one line without a traceback."""
    text = str(error)
    assert text
    assert "\n" not in text
    assert "Traceback" not in text
    return text


def test_a_file_that_is_no_blend(shot: Path, tmp_path: Path, proof_of: ProofOf) -> None:
    scene = tmp_path / "notes.blend"
    scene.write_text("shopping list")
    with pytest.raises(SceneFileError) as caught:
        proof_of(shot, scene=scene)
    assert "notes.blend" in one_line(caught.value)


def test_a_blend_that_is_cut_short(shot: Path, tmp_path: Path, proof_of: ProofOf) -> None:
    scene = tmp_path / "cut.blend"
    whole = (shot.parent / "scene.blend").read_bytes()
    scene.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(SceneFileError) as caught:
        proof_of(shot, scene=scene)
    assert "cut.blend: Blender cannot read it (Missing DNA block); save it again" in one_line(caught.value)


def test_building_into_a_blend_that_is_cut_short_leaves_it_as_it_is(shot: Path) -> None:
    output = shot.parent / "cut.blend"
    output.write_bytes((shot.parent / "scene.blend").read_bytes()[:5000])
    before = output.read_bytes()
    with pytest.raises(SceneFileError):
        build_scene(shot, output=output)
    assert output.read_bytes() == before
    assert not list(shot.parent.glob(".*"))


def test_a_scene_has_to_be_named_blend(shot: Path) -> None:
    with pytest.raises(ResultError, match=r"let it end in \.blend"):
        build_scene(shot, output=shot.parent / "scene.txt")


def test_a_proof_says_what_it_took_and_what_was_there_already(shot: Path, tmp_path: Path) -> None:
    options = Options(frames=(1, 3), pictures=False)
    first, again = (prove(shot, options=options, folder=tmp_path, tell=lambda *_: None) for _ in range(2))
    # reading, the frame between, two test frames
    assert (first.units, again.units) == ((4, 0), (0, 4))
    assert first.peak_memory_mb is not None
    assert again.peak_memory_mb is not None
    # Blender's module alone takes more than this once it has rendered
    assert first.peak_memory_mb - again.peak_memory_mb > 150


def test_a_worker_that_is_killed_costs_its_units_and_not_the_proof(
    shot: Path, tmp_path: Path, started: list["subprocess.Popen[bytes]"]
) -> None:
    def kill_the_first(what: str, *_: object) -> None:
        if what == "measuring test frames":
            started[0].kill()

    proof = prove(shot, options=Options(frames=(1, 2, 3)), folder=tmp_path, tell=kill_the_first)
    assert proof.verdict == PASS
    assert sum("underglass_headless.in_blender.worker" in process.args for process in started) == 2
    assert proof.rendered_frames == (1, 2, 3)


def test_a_unit_that_kills_every_worker_is_named_and_all_others_are_done(
    shot: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("UNDERGLASS_TEST_POISON", "2")
    poisoned(monkeypatch)
    with pytest.raises(BlenderError) as caught:
        prove(shot, options=Options(frames=(1, 2, 3), pictures=False), folder=tmp_path / "work", tell=lambda *_: None)
    told = one_line(caught.value)
    assert told.startswith("rendering the proof passes of frame 2: Blender was ended by signal 9")
    assert told.endswith("3 times; all else is done and kept")
    kept = {path.name for path in (tmp_path / "work").rglob("passes-*.json")}
    assert kept == {"passes-0001-every1.json", "passes-0003-every1.json"}


def poisoned(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let every worker be killed by the frame that UNDERGLASS_TEST_POISON names."""
    start = subprocess.Popen

    def run(command: list[str], **rest: Any) -> "subprocess.Popen[bytes]":
        ours = "underglass_headless.in_blender.worker" in command
        return start([command[0], str(poison.__file__), *command[2:]] if ours else command, **rest)

    monkeypatch.setattr(blender_process.subprocess, "Popen", run)


def test_an_interrupted_proof_ends_its_worker(
    shot: Path, tmp_path: Path, started: list["subprocess.Popen[bytes]"]
) -> None:
    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        prove(shot, options=Options(), folder=tmp_path, tell=interrupt)
    assert started[0].returncode is not None


def test_without_blender_it_is_named(
    shot: Path, tmp_path: Path, proof_of: ProofOf, monkeypatch: pytest.MonkeyPatch
) -> None:
    find = importlib.util.find_spec
    monkeypatch.setattr(importlib.util, "find_spec", lambda name, *rest: None if name == "bpy" else find(name, *rest))
    with pytest.raises(BlenderError) as caught:
        proof_of(shot)
    assert "bpy is not installed" in one_line(caught.value)


ADD_SCRIPT = """
import sys
import bpy

scene, marker = sys.argv[1:]
bpy.ops.wm.open_mainfile(filepath=scene, load_ui=False)
text = bpy.data.texts.new("startup.py")
text.write(f"open({marker!r}, 'w').close()")
text.use_module = True
bpy.ops.wm.save_as_mainfile(filepath=scene.replace("scene.blend", "trap.blend"))
answer(True)
"""
OPEN_TRUSTING = """
import sys
import bpy

bpy.ops.wm.open_mainfile(filepath=sys.argv[1], use_scripts=True)
answer(True)
"""


@pytest.mark.render
def test_scripts_in_a_scene_are_not_run(
    shot: Path, tmp_path: Path, proof_of: ProofOf, run_in_blender: Callable[..., Any]
) -> None:
    marker, trap = tmp_path / "ran", shot.parent / "trap.blend"
    run_in_blender(ADD_SCRIPT, shot.parent / "scene.blend", marker)
    proof_of(shot, scene=trap, frames=(1,))
    build_scene(shot, output=trap)
    assert not marker.exists()
    run_in_blender(OPEN_TRUSTING, trap)
    assert marker.exists(), "the trap does not work, so this test shows nothing"


@pytest.mark.render
def test_proving_leaves_the_scene_as_it_was(shot: Path, proof_of: ProofOf) -> None:
    scene = shot.parent / "scene.blend"
    before = scene.read_bytes()
    proof_of(shot, scene=scene, frames=(1,))
    assert scene.read_bytes() == before


@pytest.mark.render
def test_a_proof_leaves_no_temporary_folder_behind(
    shot: Path, tmp_path: Path, proof_of: ProofOf, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = tmp_path / "temporary"
    place.mkdir()
    for name in ("TMPDIR", "TEMP", "TMP"):
        monkeypatch.setenv(name, str(place))
    proof_of(shot, frames=(1,))
    assert list(place.iterdir()) == []


UPSET = """
import sys
import bpy

bpy.ops.wm.open_mainfile(filepath=sys.argv[1], load_ui=False)
scene = bpy.context.scene
scene.frame_step = 2
scene.render.frame_map_new = 110
scene.render.use_border = True
other = bpy.data.objects.new("witness", bpy.data.cameras.new("witness"))
scene.collection.objects.link(other)
scene.timeline_markers.new("cut", frame=2).camera = other
if hasattr(scene, "compositing_node_group"):
    scene.compositing_node_group = bpy.data.node_groups.new("grade", "CompositorNodeTree")
else:
    scene.use_nodes = True
bpy.ops.wm.save_as_mainfile(filepath=sys.argv[2])
answer(True)
"""


@pytest.mark.render
def test_building_into_a_scene_sets_its_time_and_frame_and_tells_what_else_changes_the_picture(
    shot: Path, proof_of: ProofOf, run_in_blender: Callable[..., Any]
) -> None:
    scene = shot.parent / "upset.blend"
    run_in_blender(UPSET, shot.parent / "scene.blend", scene)
    assert build_scene(shot, output=scene) == (
        "a marker on frame 2 cuts to another camera",
        "a compositor stands between the stack and the frame",
    )
    codes = {fault.code for fault in proof_of(shot, scene=scene, frames=(1,)).faults}
    assert not codes & {"frame-step", "time-stretched", "border"}
    assert "setting-compositor" in codes


def test_building_into_a_quiet_scene_tells_nothing(shot: Path) -> None:
    assert build_scene(shot, output=shot.parent / "quiet.blend") == ()


WORKERS = {
    "silent": "import time; time.sleep(60)",
    "shot": """print('underglass-event {"event": "failed", "kind": "ShotError", "message": "a.toml:3: x"}')""",
}


def run_in_its_place(monkeypatch: pytest.MonkeyPatch, script: str, folder: Path) -> None:
    """Run ``script`` as the worker, to its end."""
    start = subprocess.Popen
    monkeypatch.setattr(
        blender_process.subprocess,
        "Popen",
        lambda command, **rest: start([command[0], "-c", script], **rest),
    )
    list(blender_process.run_worker({"task": "prove"}, folder=folder))


def test_a_worker_that_says_nothing_from_the_first_is_ended(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(blender_process, "SILENCE_LIMIT_S", 0.5)
    with pytest.raises(BlenderError, match="said nothing for"):
        run_in_its_place(monkeypatch, WORKERS["silent"], tmp_path)


def test_a_shot_that_went_bad_under_the_worker_is_bad_input(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    with pytest.raises(UnderglassError) as caught:
        run_in_its_place(monkeypatch, WORKERS["shot"], tmp_path)
    assert not isinstance(caught.value, BlenderError)
    assert str(caught.value) == "a.toml:3: x"


def test_a_large_still_of_many_samples_may_take_its_time() -> None:
    limit = blender_process.silence_limit_s(64, size=(1828, 1332), levels=8)
    assert limit > blender_process.SILENCE_LIMIT_S + 3600


SLOW_STILL = """
import sys, time
sys.stdin.readline()
time.sleep(1.5)
print('underglass-event {"event": "done"}')
"""


def test_a_worker_may_be_silent_for_as_long_as_the_still_that_it_was_given_takes(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    start = subprocess.Popen
    monkeypatch.setattr(blender_process, "SILENCE_LIMIT_S", 0.5)
    monkeypatch.setattr(
        blender_process.subprocess, "Popen", lambda command, **more: start([command[0], "-c", SLOW_STILL], **more)
    )
    for silent_s, ends_well in ((30.0, True), (0.1, False)):
        worker = blender_process.Worker({"task": "units"}, folder=tmp_path)
        try:
            worker.send({}, silent_s=silent_s)
            if ends_well:
                assert list(worker.events()) == []
            else:
                with pytest.raises(BlenderError, match="said nothing for"):
                    list(worker.events())
        finally:
            worker.end()


def test_a_scene_that_is_saved_while_the_proof_begins_is_not_taken_for_the_one_that_was_asked_for(
    shot: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    scene, make = tmp_path / "scene.blend", prove_shot.make_job
    scene.write_bytes((shot.parent / "scene.blend").read_bytes())

    def saved_meanwhile(*args: Any, **more: Any) -> Any:
        job = make(*args, **more)
        scene.write_bytes(scene.read_bytes() + b"\0")
        return job

    monkeypatch.setattr(prove_shot, "make_job", saved_meanwhile)
    with pytest.raises(UnderglassError) as caught:
        prove(shot, options=Options(scene=scene, frames=(1,)), folder=tmp_path / "work", tell=lambda *_: None)
    assert "changed after the proof began; run it again" in one_line(caught.value)
    assert not list((tmp_path / "work").rglob("read-*"))
