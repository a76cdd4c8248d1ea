# SPDX-License-Identifier: GPL-3.0-or-later
"""A proof in the background of a window finds what the command line finds, and says in one line why it cannot."""

import json
import os
import shutil
import stat
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from PIL import Image

import small_shots
from small_shots import Glass
from underglass.image.picture_png import codes_from_light, over_black
from underglass.proof import proof_beside_window
from underglass.proof.proof_beside_window import Failed, Finished, Job, Progress, Row
from underglass.proof.proof_facts import FAIL, PASS
from underglass.proof.proof_json import proof_record
from underglass_headless.blender.build_blend import build_scene
from underglass_headless.exr.read_exr import read_picture
from underglass_headless.proving.prove_shot import Options, prove
from underglass_headless.report.schemas import proof_schema

pytestmark = [pytest.mark.bpy, pytest.mark.render]

# Two ways from the same scene to the same numbers.
SAME_PX = 1e-6
FRAMES = (1, 12, 25)
LONG_S = 120

# Makes a scene in which card C stands 4 mm too high, one that opens with another scene than the shot's, and one with a
# thing from a library that is gone.
MAKE_OTHERS = """
import sys
from pathlib import Path
import bpy
from proving.wrong_scenes import add, level

clean, folder = sys.argv[1:]
bpy.ops.wm.open_mainfile(filepath=clean, load_ui=False)
add(level(bpy.context.scene, "card C"), "location", 2, 0.004)
bpy.ops.wm.save_as_mainfile(filepath=f"{folder}/moved.blend", copy=True)
bpy.ops.wm.open_mainfile(filepath=clean, load_ui=False)
bpy.context.scene.name = "shot"
bpy.context.window_manager.windows[0].scene = bpy.data.scenes.new("an empty one")
bpy.ops.wm.save_as_mainfile(filepath=f"{folder}/two scenes.blend", copy=True)
answer(bpy.context.scene.name)

library = f"{folder}/library.blend"
bpy.data.libraries.write(library, {bpy.data.objects.new("mark", None)})
bpy.ops.wm.open_mainfile(filepath=clean, load_ui=False)
with bpy.data.libraries.load(library, link=True) as (there, here):
    here.objects = ["mark"]
bpy.context.scene.collection.objects.link(here.objects[0])
bpy.ops.wm.save_as_mainfile(filepath=f"{folder}/linked.blend", copy=True)
Path(library).unlink()
"""


# Proves a scene that is not the open one while another Python thread never rests.
PROVE_BESIDE_A_BUSY_THREAD = """
import sys, tempfile, threading
from pathlib import Path
import bpy
from underglass.plan import make_plan
from underglass.shot.files import read_shot
from underglass.stage.prove_here import prove_here

blend, shot = map(Path, sys.argv[1:])
bpy.ops.wm.open_mainfile(filepath=str(blend), load_ui=False)

def toil():
    while True:
        sum(range(1000))

threading.Thread(target=toil, daemon=True).start()
sys.setswitchinterval(1e-5)
with tempfile.TemporaryDirectory() as folder:
    proof = prove_here(
        bpy.data.scenes["shot"], make_plan(read_shot(shot)), shot_file=shot, scene_file=blend, folder=Path(folder),
        frames=range(1, 26), pictures=False,
    )
answer([proof.verdict, bpy.context.scene.name])
"""


# Proves a scene of two layers, of which the second shows nothing: open, or while another scene is that has a layer of
# the name of that second one.
PROVE_THE_FIRST_LAYER = """
import sys, tempfile
from pathlib import Path
import bpy
from underglass.plan import make_plan
from underglass.shot.files import read_shot
from underglass.stage.prove_here import prove_here

blend, shot = map(Path, sys.argv[1:3])
bpy.ops.wm.open_mainfile(filepath=str(blend), load_ui=False)
scene, window = bpy.context.scene, bpy.context.window
scene.view_layers[0].name = "beauty"
for collection in scene.view_layers.new("ViewLayer").layer_collection.children:
    collection.exclude = True

window.view_layer = scene.view_layers[0]
if sys.argv[3] == "behind another":
    window.scene = bpy.data.scenes.new("an empty one")
before = [window.scene.name, window.view_layer.name]
with tempfile.TemporaryDirectory() as folder:
    proof = prove_here(
        scene, make_plan(read_shot(shot)), shot_file=shot, scene_file=blend, folder=Path(folder), frames=[1],
        pictures=False,
    )
answer([before, [window.scene.name, window.view_layer.name], [[fault.code, fault.subject] for fault in proof.faults]])
"""


@pytest.fixture(scope="module")
def shot(tmp_path_factory: pytest.TempPathFactory, run_in_blender: Callable[..., Any]) -> Path:
    """Return a shot.toml with clean.blend, moved.blend, two scenes.blend and linked.blend beside it."""
    folder = tmp_path_factory.mktemp("background") / "a shot of $HOME"
    shot_file = small_shots.line_up(folder)
    build_scene(shot_file, output=folder / "clean.blend")
    assert run_in_blender(MAKE_OTHERS, folder / "clean.blend", folder) == "an empty one"
    return shot_file


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a folder for one proof."""
    (tmp_path / "proof").mkdir()
    return tmp_path / "proof"


def run(job: Job, *, blend: Path, folder: Path, script: Path = proof_beside_window.SCRIPT) -> Finished | Failed:
    """Do ``job`` with Blender's module in the place of its executable, and return what is then said."""
    job_file = proof_beside_window.write_job(job, blend_copy=blend, folder=folder)
    environment = proof_beside_window.without_user_settings(os.environ, folder=folder)
    command = [sys.executable, str(script), str(job_file)]
    done = subprocess.run(
        command, env=environment, capture_output=True, text=True, timeout=LONG_S, check=False, stdin=subprocess.DEVNULL
    )
    said = proof_beside_window.poll(folder)
    print(done.stdout, done.stderr, said)
    assert not isinstance(said, Progress)
    assert done.returncode == (0 if isinstance(said, Finished) else 3)
    return said


def finished(job: Job, *, blend: Path, folder: Path, **more: Path) -> Finished:
    said = run(job, blend=blend, folder=folder, **more)
    assert isinstance(said, Finished), said
    return said


def record_of(said: Finished) -> dict[str, Any]:
    record = json.loads(said.proof_file.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(proof_schema()).validate(record)
    return record


def numbers_of(record: dict[str, Any]) -> np.ndarray:
    """Return every number of the measurements, NaN where there is none."""
    nothing = {"size_px": None, "x": None, "y": None, "turn": None}
    rows = [
        [*m["planned"].values(), *(m["measured"] or nothing).values(), m["error_px"], m["uncertainty_px"]]
        for m in record["measurements"]
    ]
    return np.array(rows, dtype=float)


def same_as_at_the_command_line(record: dict[str, Any], *, shot_file: Path, options: Options, folder: Path) -> None:
    """Hold ``record`` against the proof that the command line makes of the same scene."""
    proof = prove(shot_file, options=options, folder=folder, tell=lambda *_: None)
    theirs = json.loads(json.dumps(proof_record(proof)))
    np.testing.assert_allclose(numbers_of(record), numbers_of(theirs), rtol=0, atol=SAME_PX)
    for ours, other in zip(record["scene_error_px"], theirs["scene_error_px"], strict=True):
        assert ours == pytest.approx(other, abs=SAME_PX)
    # what differs by intent: pictures lie elsewhere, and the stages of the work are others
    apart = {"measurements", "scene_error_px", "pictures", "seconds", "peak_memory_mb", "units"}
    assert {k: v for k, v in record.items() if k not in apart} == {k: v for k, v in theirs.items() if k not in apart}
    assert [m["verdict"] for m in record["measurements"]] == [m["verdict"] for m in theirs["measurements"]]


def test_a_clean_scene_passes_with_the_numbers_of_the_command_line(shot: Path, folder: Path, tmp_path: Path) -> None:
    scene = shot.parent / "clean.blend"
    said = finished(Job(shot, pictures=False), blend=scene, folder=folder)
    assert (said.verdict, said.pictures) == (PASS, {})
    assert [(row.level, row.verdict) for row in said.rows] == [
        (name, PASS) for name in ("card A", "heron", "card B", "card C", "card D")
    ]
    assert all(row.error_px is not None and row.error_px < 0.01 for row in said.rows)
    assert said.lines[0].startswith("“Line-up” passes")
    record = record_of(said)
    assert len(record["rendered_frames"]) >= 8
    making = tmp_path / "making"
    making.mkdir()
    same_as_at_the_command_line(record, shot_file=shot, options=Options(scene=scene, pictures=False), folder=making)


def test_a_level_that_was_moved_is_named_with_the_numbers_of_the_command_line(
    shot: Path, folder: Path, tmp_path: Path
) -> None:
    scene = shot.parent / "moved.blend"
    said = finished(Job(shot, frames="1,12,25", pictures=False, step=1), blend=scene, folder=folder)
    assert said.verdict == FAIL
    assert any("card C" in line and "too high" in line for line in said.lines)
    assert {row.level: row.verdict for row in said.rows if row.verdict == FAIL} == {"card C": FAIL}
    record = record_of(said)
    assert (record["rendered_frames"], record["test_frames"]) == (list(range(1, 26)), list(FRAMES))
    making = tmp_path / "making"
    making.mkdir()
    options = Options(scene=scene, pictures=False, frames=FRAMES, step=1)
    same_as_at_the_command_line(record, shot_file=shot, options=options, folder=making)


def test_a_stack_too_tall_for_one_render(tmp_path: Path, folder: Path) -> None:
    place, making = tmp_path / "tall", tmp_path / "making"
    place.mkdir()
    making.mkdir()
    glasses = [Glass(f"level {i}", 1150.0 - 100 * i, east=i - 4.0, turn=3.0 * i, width=30 + 8.0 * i) for i in range(10)]
    shot_file = small_shots.stack(place, glasses)
    build_scene(shot_file, output=place / "scene.blend")
    said = finished(Job(shot_file, frames="1", pictures=False), blend=place / "scene.blend", folder=folder)
    assert (said.verdict, len(said.rows)) == (PASS, 10)
    options = Options(scene=place / "scene.blend", pictures=False, frames=(1,))
    same_as_at_the_command_line(record_of(said), shot_file=shot_file, options=options, folder=making)


def test_pictures_are_those_of_the_command_line_and_nothing_else_is_left(
    shot: Path, folder: Path, tmp_path: Path
) -> None:
    scene = shot.parent / "clean.blend"
    said = finished(Job(shot, frames="12,25"), blend=scene, folder=folder)
    assert list(said.pictures) == [12, 25]
    assert record_of(said)["pictures"] == {"12": "pictures/0012.png", "25": "pictures/0025.png"}
    proof = prove(shot, options=Options(scene=scene, frames=(12, 25)), folder=tmp_path, tell=lambda *_: None)
    for frame, picture in said.pictures.items():
        with Image.open(picture) as image:
            codes = np.asarray(image)
        light = over_black(read_picture(proof.pictures[frame].with_suffix(".exr")))
        np.testing.assert_array_equal(codes, codes_from_light(light))
        assert len(np.unique(codes)) > 10
    assert {path.name for path in folder.iterdir()} == {
        proof_beside_window.JOB,
        proof_beside_window.PROGRESS,
        proof_beside_window.PROOF,
        proof_beside_window.SUMMARY,
        proof_beside_window.PICTURES,
        "blender settings",
        "blender temporary",
    }


def test_the_scene_that_is_named_is_proved_though_another_is_open(shot: Path, folder: Path) -> None:
    blend = shot.parent / "two scenes.blend"
    said = finished(Job(shot, scene="shot", blend="mine.blend", frames="1,25"), blend=blend, folder=folder)
    assert said.verdict == PASS
    assert record_of(said)["scene"] == "mine.blend"
    said = finished(Job(shot, frames="1", pictures=False), blend=blend, folder=folder)
    assert said.verdict == FAIL
    assert said.rows[0] == Row("card A", None, None, None, FAIL)


def test_a_scene_that_is_not_open_is_proved_beside_a_busy_thread(
    shot: Path, run_in_blender: Callable[..., Any]
) -> None:
    said = run_in_blender(PROVE_BESIDE_A_BUSY_THREAD, shot.parent / "two scenes.blend", shot)
    assert said == [PASS, "an empty one"]


@pytest.mark.parametrize(
    ("how", "seen"), [("open", ["Scene", "beauty"]), ("behind another", ["an empty one", "ViewLayer"])]
)
def test_of_a_scene_that_is_not_open_the_first_layer_is_proved(
    how: str, seen: list[str], shot: Path, run_in_blender: Callable[..., Any]
) -> None:
    before, after, faults = run_in_blender(PROVE_THE_FIRST_LAYER, shot.parent / "clean.blend", shot, how)
    assert before == after == seen
    assert faults == [["setting-layers-rendered", "scene"]]


def test_a_scene_that_links_to_a_library_that_is_gone_is_proved(shot: Path, folder: Path) -> None:
    said = finished(Job(shot, frames="1", pictures=False), blend=shot.parent / "linked.blend", folder=folder)
    assert said.verdict == PASS


def failure(job: Job, *, blend: Path, folder: Path) -> str:
    said = run(job, blend=blend, folder=folder)
    assert isinstance(said, Failed)
    assert "\n" not in said.message
    assert not (folder / proof_beside_window.PROOF).exists()
    assert not list(folder.glob("making-*"))
    return said.message


def test_what_stands_in_the_way_is_said_in_one_line(shot: Path, folder: Path, tmp_path: Path) -> None:
    clean = shot.parent / "clean.blend"
    broken = tmp_path / "broken.toml"
    text = shot.read_text(encoding="utf-8").replace("art_width = 24.0", "art_width = -24.0")
    broken.write_text(text, encoding="utf-8")
    line = text.splitlines().index("art_width = -24.0") + 1
    assert f"broken.toml:{line}: " in failure(Job(broken), blend=clean, folder=folder)
    assert "gone.toml" in failure(Job(tmp_path / "gone.toml"), blend=clean, folder=folder)
    assert failure(Job(shot, frames="26"), blend=clean, folder=folder).startswith("frames: frame 26 is not in the shot")
    assert failure(Job(shot, frames="1-x"), blend=clean, folder=folder).startswith("frames: '1-x' is no frame")
    assert "no scene other" in failure(Job(shot, scene="other"), blend=clean, folder=folder)
    assert failure(Job(shot), blend=shot, folder=folder).startswith("Blender failed")


def test_a_new_run_does_not_show_what_an_earlier_one_said(shot: Path, folder: Path) -> None:
    clean = shot.parent / "clean.blend"
    finished(Job(shot, frames="1"), blend=clean, folder=folder)
    proof_beside_window.write_job(Job(shot), blend_copy=clean, folder=folder)
    assert proof_beside_window.poll(folder) == Progress("starting Blender", 0, 0)
    assert not (folder / proof_beside_window.PICTURES).exists()


def test_the_package_may_have_another_name_and_strange_neighbours(shot: Path, folder: Path, tmp_path: Path) -> None:
    extensions = tmp_path / "extensions"
    shutil.copytree(
        proof_beside_window.SCRIPT.parents[1], extensions / "stand_tools", ignore=shutil.ignore_patterns("__pycache__")
    )
    for neighbour in ("numpy", "underglass", "json"):
        (extensions / neighbour).mkdir()
        (extensions / neighbour / "__init__.py").write_text("raise RuntimeError('a stranger')")
    script = extensions / "stand_tools" / "stage" / "background_proof.py"
    job = Job(shot, frames="1", pictures=False)
    said = finished(job, blend=shot.parent / "clean.blend", folder=folder, script=script)
    assert said.verdict == PASS


# -- the process -------------------------------------------------------------------------------------------------------


def in_the_place_of_blender(place: Path, text: str) -> str:
    """Return an executable that does what ``text`` says, in Python, when it is called as Blender would be."""
    path = place / "blender in a folder"
    path.write_text(f"#!{sys.executable}\n{text}", encoding="utf-8")
    path.chmod(path.stat().st_mode | stat.S_IXUSR)
    return str(path)


@pytest.fixture
def started() -> Iterator[list["subprocess.Popen[bytes]"]]:
    """Return a list for processes, which are ended afterwards."""
    processes: list[subprocess.Popen[bytes]] = []
    yield processes
    for process in processes:
        proof_beside_window.stop(process)


def test_blender_is_called_without_a_shell_scripts_or_settings_of_its_user(
    shot: Path, folder: Path, tmp_path: Path, started: list, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BLENDER_USER_SCRIPTS", str(tmp_path))
    text = """
import json, os, sys
users = {name: value for name, value in os.environ.items() if name.startswith("BLENDER_USER")}
print(json.dumps([sys.argv[1:], users, sys.stdin.read()]))
"""
    copy = shot.parent / "clean.blend"
    started.append(
        proof_beside_window.start(
            Job(shot), blender=in_the_place_of_blender(tmp_path, text), blend_copy=copy, folder=folder
        )
    )
    assert started[0].wait(LONG_S) == 0
    arguments, users, heard = json.loads((folder / proof_beside_window.LOG).read_text())
    assert arguments == [
        *("--background", "--factory-startup", "--disable-autoexec", str(copy)),
        *("--python", str(proof_beside_window.SCRIPT), "--", str(folder / proof_beside_window.JOB)),
    ]
    assert users == {"BLENDER_USER_RESOURCES": str(folder / "blender settings")}
    assert heard == ""


def test_from_start_to_finish(shot: Path, folder: Path, tmp_path: Path, started: list) -> None:
    text = "import sys, os\nos.execv(sys.executable, [sys.executable, *sys.argv[6:]])"
    blender = in_the_place_of_blender(tmp_path, text)
    job = Job(shot, frames="1,25", pictures=False)
    started.append(
        proof_beside_window.start(job, blender=blender, blend_copy=shot.parent / "clean.blend", folder=folder)
    )
    heard: list[Progress] = []
    while isinstance(said := proof_beside_window.poll(folder, process=started[0]), Progress):
        if said not in heard:
            heard.append(said)
    assert isinstance(said, Finished), said
    assert said.verdict == PASS
    assert heard[0] == Progress("starting Blender", 0, 0)
    assert "measuring every frame" in {progress.what for progress in heard}
    assert all(0 <= progress.done <= progress.of for progress in heard)


def test_a_process_that_is_ended_or_ends_without_a_word_has_failed(
    shot: Path, folder: Path, tmp_path: Path, started: list
) -> None:
    copy = shot.parent / "clean.blend"
    blender = in_the_place_of_blender(tmp_path, "import time\ntime.sleep(60)")
    started.append(proof_beside_window.start(Job(shot), blender=blender, blend_copy=copy, folder=folder))
    assert isinstance(proof_beside_window.poll(folder, process=started[0]), Progress)
    proof_beside_window.stop(started[0])
    said = proof_beside_window.poll(folder, process=started[0])
    assert said == Failed("Blender was ended by signal 9: memory may be short")
    blender = in_the_place_of_blender(tmp_path, "print('out of cels')\nraise SystemExit(7)")
    started.append(proof_beside_window.start(Job(shot), blender=blender, blend_copy=copy, folder=folder))
    started[1].wait(LONG_S)
    assert proof_beside_window.poll(folder, process=started[1]) == Failed("Blender ended with status 7: out of cels")


def test_a_blender_that_is_not_there_is_named(shot: Path, folder: Path, tmp_path: Path) -> None:
    with pytest.raises(proof_beside_window.RunningError) as caught:
        proof_beside_window.start(
            Job(shot), blender=str(tmp_path / "gone"), blend_copy=shot.parent / "clean.blend", folder=folder
        )
    assert str(tmp_path / "gone") in str(caught.value)
    assert "\n" not in str(caught.value)
