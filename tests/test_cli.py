# SPDX-License-Identifier: GPL-3.0-or-later
"""The command line: what a slip in it says, with which exit status, and how a command is ended from outside."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from underglass_headless import cli
from underglass_headless.blender import build_blend
from underglass_headless.cli import Status
from underglass_headless.exr.read_exr import FrameFileError
from underglass_headless.options import Size
from underglass_headless.proving import prove_command

ESTUARY = Path(__file__).resolve().parent.parent / "scenes" / "estuary"

BAD_SIZES = ("20", "GB", "0GB", "-1GB", "1e3GB", "20 gigs", "nan GB", "²GB", "1,5GB", "20gb")
SLIPS = [
    (["--frames", ""], "an empty list"),
    (["--frames", "1,,3"], "nothing between two commas"),
    (["--frames", "5-2"], "last frame before its first; write 2-5"),
    (["--frames", "x"], "is no frame or range"),
    (["--frames", "99999999999"], "is not in the shot"),
    (["--tolerance", "abc"], "abc is not a tolerance"),
    (["--tolerance", "nan"], "nan is not a tolerance"),
    (["--threads", "x"], "x is not a number of threads"),
    (["--samples", "0"], "from 1 to 4096"),
    *((["--keep", word], f"{word} is not a size; give one such as 500MB, 20GB or 2TB") for word in BAD_SIZES),
    (["--bad"], "--bad"),
]


@pytest.mark.parametrize(
    ("word", "size"), [("500MB", 5 * 10**8), ("20GB", 2 * 10**10), ("2 TB", 2 * 10**12), ("1.5GB", 15 * 10**8)]
)
def test_a_size_is_read_by_powers_of_ten(word, size):
    assert Size().convert(word, None, None) == size


@pytest.mark.parametrize(("words", "said"), SLIPS, ids=[" ".join(words) for words, _ in SLIPS])
def test_a_slip_is_one_sentence_that_leads_to_the_help(words, said, tmp_path, capsys):
    assert cli.run(["prove", str(ESTUARY), "--out", str(tmp_path / "out"), *words]) == Status.BAD_INPUT
    told = capsys.readouterr().err
    assert said in told
    assert told.count("\n") == 1
    assert told.endswith(". See underglass prove --help.\n")
    assert not (tmp_path / "out").exists()


def test_processes_here_and_workers_of_a_cluster_are_not_asked_for_at_once(tmp_path, capsys):
    words = ["prove", str(ESTUARY), "--out", str(tmp_path / "out"), "--cluster", "tcp://10.0.0.5:8786", "--jobs", "2"]
    assert cli.run(words) == Status.BAD_INPUT
    told = capsys.readouterr().err
    assert told.startswith("underglass: --jobs cannot be used with --cluster: ")
    assert told.count("\n") == 1
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("name", "said"), [("nowhere.blend", "is not there"), ("folder", "is a folder"), ("notes.blend", "no Blender file")]
)
def test_a_scene_that_is_no_blend_is_bad_input_before_blender_starts(name, said, tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(subprocess, "Popen", None)
    (tmp_path / "folder").mkdir()
    (tmp_path / "notes.blend").write_text("shopping list")
    words = ["prove", str(ESTUARY), "--scene", str(tmp_path / name), "--out", str(tmp_path / "out")]
    assert cli.run(words) == Status.BAD_INPUT
    assert said in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_building_onto_what_is_no_blend_leaves_it(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(subprocess, "Popen", None)
    notes = tmp_path / "notes.blend"
    notes.write_text("shopping list")
    assert cli.run(["build", str(ESTUARY), "-o", str(notes)]) == Status.BAD_INPUT
    assert "no Blender file" in capsys.readouterr().err
    assert notes.read_text() == "shopping list"


def test_building_into_a_folder_that_is_not_there_makes_none(tmp_path, capsys):
    assert cli.run(["build", str(ESTUARY), "-o", str(tmp_path / "no" / "x.blend")]) == Status.BAD_INPUT
    told = capsys.readouterr().err
    assert "is not there; make it first" in told
    assert "--out" not in told
    assert not (tmp_path / "no").exists()


def test_a_frame_that_blender_wrote_badly_is_blender_s_failure(tmp_path, monkeypatch, capsys):
    def prove(*_, **__):
        raise FrameFileError("uv-1-0.exr: cannot be read as EXR")

    monkeypatch.setattr(prove_command, "prove", prove)
    assert cli.run(["prove", str(ESTUARY), "--out", str(tmp_path / "out")]) == Status.BLENDER_FAILED
    assert "cannot be read as EXR" in capsys.readouterr().err


def test_what_a_build_leaves_in_a_scene_is_one_line_of_warning(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(build_blend, "build_scene", lambda *_, **__: ("a cut", "a compositor"))
    assert cli.run(["build", str(ESTUARY), "-o", str(tmp_path / "x.blend")]) == Status.HOLDS
    out, told = capsys.readouterr()
    assert out == f"built {tmp_path / 'x.blend'}\n"
    assert told == f"underglass: warning: {tmp_path / 'x.blend'}: a cut; a compositor; left as it is\n"


def ended_while_it_loads(module: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """Return how the command ends that is interrupted where it imports ``module``, which has the import fail."""
    script = f"""
import os, runpy, signal, sys

class Interrupted:
    def find_spec(self, name, path=None, target=None):
        if name == {module!r}:
            try:
                os.kill(os.getpid(), signal.SIGINT)
            except KeyboardInterrupt:
                # as a module of C does it
                raise ImportError("initialization failed") from None

signal.signal(signal.SIGINT, signal.default_int_handler)
sys.meta_path.insert(0, Interrupted())
sys.argv = ["underglass", "prove", {str(ESTUARY)!r}, "--frames-from", {str(folder)!r}, "--out", {str(folder / "out")!r}]
runpy.run_module("underglass_headless", run_name="__main__")
"""
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    return subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, env=environment, check=False, timeout=60
    )


@pytest.mark.parametrize("module", ["click", "OpenEXR"])
def test_ctrl_c_while_a_command_loads_is_one_line(module, tmp_path):
    done = ended_while_it_loads(module, tmp_path)
    assert (done.returncode, done.stdout) == (Status.INTERRUPTED, "")
    *_, told = done.stderr.splitlines()
    assert told == "underglass: interrupted; earlier results are as they were"
    assert "Traceback" not in done.stderr


HANGING = """
import signal, sys, time
from underglass_headless import cli
from underglass_headless.proving import prove_command

# Tests that were started in the background, or to outlive their terminal, hand on that these are ignored.
signal.signal(signal.SIGHUP, signal.SIG_DFL)
signal.signal(signal.SIGINT, signal.default_int_handler)

def prove(*_, **__):
    print("ready", flush=True)
    time.sleep(60)

prove_command.prove = prove
cli.main(sys.argv[1:])
"""


@pytest.mark.parametrize("name", [signal.SIGTERM, signal.SIGHUP, signal.SIGINT])
def test_a_command_that_is_ended_puts_everything_away(name, tmp_path):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "proof.json").write_text("earlier")
    command = [sys.executable, "-c", HANGING, "prove", str(ESTUARY), "--out", str(tmp_path / "out")]
    with subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    ) as process:
        assert process.stdout.readline() == "ready\n"
        process.send_signal(name)
        _, told = process.communicate(timeout=30)
    assert process.returncode == Status.INTERRUPTED
    assert told.strip() == "underglass: interrupted; earlier results are as they were"
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["proof.json"]
