# SPDX-License-Identifier: GPL-3.0-or-later
"""Commands that are killed at any moment, without a word: results are whole or absent, and the next run works."""

import contextlib
import json
import os
import random
import shutil
import signal
import subprocess
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import psutil
import pytest

from hostile.places import COMMAND, ROOT, contents, environment, run
from hostile.test_disk_full import COMMANDS
from hostile.test_names import lay_out
from layered.paintings import noise, png, write_ora

# 50 moments in all, most of them where a run is quick.
MOMENTS = {"table": 8, "sheets": 8, "guide": 8, "new": 8, "plan": 6, "build": 5, "prove": 7}
SCHEMA = ROOT / "headless" / "underglass_headless" / "report" / "proof.schema.json"


def shot_of(folder: Path, *, second: bool) -> Path:
    """Lay out a shot whose results are other ones the second time, and layered art."""
    lay_out(folder, "reeds", title="second" if second else "first")
    shot = folder / "shot.toml"
    shot.write_text(shot.read_text().replace("height = 1300.0", f"height = {1310.0 if second else 1300.0}"))
    layers = '<layer name="reeds" src="data/a.png"/><layer name="sky" src="data/a.png"/>'
    write_ora(folder / "x.ora", layers, {"data/a.png": png(noise((96, 64), seed=4 + second))})
    return folder


def words_of(name: str, shot: Path, out: Path, *, second: bool) -> list[str]:
    words = COMMANDS[name](shot, out)
    if name == "prove":
        return [*words[:-1], "2" if second else "1"]
    return [*words, "--prefer", "travel" if second else "movers"] if name == "plan" else words


def kill_after(words: list[str], seconds: float, *, alone: bool) -> bool:
    """Start a command and kill it after some time, ``alone`` or with all that it started; return if it was in time."""
    process = subprocess.Popen(
        [*COMMAND, *words],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        stdin=subprocess.DEVNULL,
        env=environment(),
        start_new_session=True,
    )
    children: list[psutil.Process] = []
    with contextlib.suppress(subprocess.TimeoutExpired):
        process.wait(seconds)
    in_time = process.poll() is None
    with contextlib.suppress(psutil.NoSuchProcess):
        children = psutil.Process(process.pid).children(recursive=True)
    if in_time and alone:
        process.kill()
    elif in_time:
        os.killpg(process.pid, signal.SIGKILL)
    process.wait()
    # What it had started notices that nobody listens any more.
    _, alive = psutil.wait_procs(children, timeout=30)
    with contextlib.suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    assert not alive, f"still at work half a minute after its parent was killed: {alive}"
    return in_time


def half_made(out: Path) -> list[str]:
    return [path.name for path in out.rglob(".*") if path.name.startswith(".making-") or path.suffix == ".part"]


def visible(found: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a user sees of a folder: nothing that is in the making."""
    return {name: data for name, data in found.items() if not any(part.startswith(".") for part in Path(name).parts)}


def whole_files(out: Path, earlier: Mapping[str, Any], later: Mapping[str, Any]) -> None:
    """Check that every file is as the earlier run left it or as the later one makes it."""
    for name, data in visible(contents(out)).items():
        assert data in {earlier.get(name, b"?"), later.get(name, b"?")}, f"{name} is neither the old one nor the new"


def whole_proof(out: Path) -> None:
    import jsonschema

    text = (out / "proof.json").read_text(encoding="utf-8")
    jsonschema.validate(json.loads(text), json.loads(SCHEMA.read_text(encoding="utf-8")))
    title = json.loads(text)["shot"]["title"]
    frame = {"first": "0001", "second": "0002"}[title]
    assert sorted(path.name for path in (out / "pictures").iterdir()) == [f"{frame}.exr", f"{frame}.png"]
    assert title in (out / "index.html").read_text(encoding="utf-8")


@pytest.mark.soak
@pytest.mark.timeout(900)
@pytest.mark.parametrize("name", MOMENTS)
def test_what_is_killed_leaves_results_whole_or_none(
    name: str, tmp_path: Path, seed: int, run_in_blender: Callable[..., Any]
) -> None:
    rng = random.Random(f"{seed} {name}")
    shots = [shot_of(tmp_path / which, second=second) for which, second in (("a", False), ("b", True))]
    earlier, model = tmp_path / "earlier", tmp_path / "model"
    earlier.mkdir()
    model.mkdir()
    if name != "new":
        assert run(words_of(name, shots[0], earlier, second=False)).status == 0
        shutil.copytree(earlier, model, dirs_exist_ok=True)
    began = time.monotonic()
    assert run(words_of(name, shots[1], model, second=True)).status == 0
    lasts = time.monotonic() - began
    in_time = 0
    for moment in range(5 * MOMENTS[name]):
        if in_time == MOMENTS[name]:
            break
        out = tmp_path / f"out {moment}"
        shutil.copytree(earlier, out)
        words = words_of(name, shots[1], out, second=True)
        # The last part of a run is where its results are written: half of the moments lie there.
        share = rng.uniform(0.7, 1.05) if moment % 2 else rng.uniform(0.05, 1.0)
        if kill_after(words, share * lasts, alone=moment % 4 < 2):
            in_time += 1
        else:
            # The first run can take longer than those after it.
            lasts *= 0.9
        if name == "prove":
            whole_proof(out)
        elif name == "build":
            found = run_in_blender(OPEN, out / "scene.blend")
            assert found == ["reeds", "sky"]
        else:
            whole_files(out, contents(earlier), contents(model))
        if name == "new" and (out / "made").exists():
            # whole already: a shot is never made over another
            assert (out / "made" / "shot.toml").exists()
            continue
        assert run(words).status == 0
        assert not half_made(out), "the next run did not sweep what the killed one left"
    assert in_time == MOMENTS[name], "too few runs were killed in time"


OPEN = """
import sys
import bpy

bpy.ops.wm.open_mainfile(filepath=sys.argv[1], load_ui=False, use_scripts=False)
answer(sorted(obj.name for obj in bpy.context.scene.objects if obj.type == "MESH"))
"""
