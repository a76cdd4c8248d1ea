# SPDX-License-Identifier: GPL-3.0-or-later
"""A disk that is full or read-only: earlier results stay whole, one line says why, and nothing half-made stays."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from hostile.places import Ended, contents, full, read_only, run, small_disk
from hostile.test_names import lay_out
from layered.paintings import noise, png, write_ora

ROOT = Path(__file__).parents[2]
BAD_INPUT, BLENDER_FAILED = 2, 3

Words = Callable[[Path, Path], list[str]]

# What each command is told, from the folder of its input and the one of its results.
COMMANDS: dict[str, Words] = {
    "table": lambda shot, out: ["table", str(shot), "-o", str(out / "plan.csv")],
    "sheets": lambda shot, out: ["sheets", str(shot), "-o", str(out)],
    "guide": lambda shot, out: ["guide", str(shot), "-o", str(out)],
    "plan": lambda shot, out: ["plan", str(ROOT / "scenes" / "estuary" / "brief.toml"), "-o", str(out)],
    "new": lambda shot, out: ["new", str(shot / "x.ora"), "-o", str(out / "made")],
    "build": lambda shot, out: ["build", str(shot), "-o", str(out / "scene.blend")],
    "prove": lambda shot, out: ["prove", str(shot), "--out", str(out), "--frames", "2"],
}
QUICK = {"table", "sheets"}


def each(*leave_out: str) -> list[object]:
    """Return every command as a parameter; all but the quickest only with the suite ``soak``."""
    names = [name for name in COMMANDS if name not in leave_out]
    return [pytest.param(name, marks=() if name in QUICK else pytest.mark.soak) for name in names]


@pytest.fixture
def shot(tmp_path: Path) -> Path:
    """Return the folder of a small shot, with layered art in it."""
    folder = tmp_path / "shot"
    lay_out(folder, "reeds")
    layers = '<layer name="reeds" src="data/a.png"/><layer name="sky" src="data/a.png"/>'
    write_ora(folder / "x.ora", layers, {"data/a.png": png(noise((96, 64), seed=4))})
    return folder


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    """Return a small disk of its own."""
    with small_disk(tmp_path / "disk") as place:
        yield place


def told(ended: Ended, *reasons: str) -> None:
    """Check that a command said in one line why it could not, and no more than how far it had got before."""
    assert ended.status in {BAD_INPUT, BLENDER_FAILED}, ended
    ours = [line for line in ended.said if line.startswith("underglass: ")]
    assert len(ours) == 1, ended
    assert ended.said[-1] == ours[0]
    assert not any("Traceback" in line for line in ended.said)
    assert any(reason in ours[0] for reason in reasons), ours


def earlier_results(name: str, shot: Path, out: Path) -> None:
    """Put what an earlier run left in place; a shot is only ever made in a new folder."""
    out.mkdir(parents=True, exist_ok=True)
    if name != "new":
        assert run(COMMANDS[name](shot, out)).status in {0, 1}


@pytest.mark.parametrize("name", each())
def test_a_full_disk_leaves_earlier_results_whole(name: str, shot: Path, disk: Path) -> None:
    out = disk / "out"
    earlier_results(name, shot, out)
    if name == "prove":
        # else all of the work would be kept, and nothing rendered
        (shot / "shot.toml").write_text((shot / "shot.toml").read_text().replace("1300.0", "1310.0"))
    before = contents(out)
    with full(disk):
        told(run(COMMANDS[name](shot, out)), "No space left", "no space left")
        assert contents(out) == before
    ended = run(COMMANDS[name](shot, out))
    assert ended.status in {0, 1}, ended


@pytest.mark.parametrize("name", each())
def test_a_read_only_disk_leaves_earlier_results_whole(name: str, shot: Path, disk: Path) -> None:
    out = disk / "out"
    earlier_results(name, shot, out)
    before = contents(out)
    with read_only(disk):
        told(run(COMMANDS[name](shot, out)), "Read-only file system", "cannot be written")
    assert contents(out) == before


@pytest.mark.parametrize("most_bytes", [0, 100])
@pytest.mark.parametrize("name", each("build", "prove"))
def test_a_limit_on_files_leaves_earlier_results_whole(name: str, most_bytes: int, shot: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    earlier_results(name, shot, out)
    before = contents(out)
    told(run(COMMANDS[name](shot, out), most_bytes=most_bytes), "File too large")
    assert contents(out) == before


def test_saving_a_shot_on_a_full_disk_leaves_its_files(disk: Path) -> None:
    from dataclasses import replace

    from underglass.shot import ShotError
    from underglass.shot.files import read_shot
    from underglass.shot.files.save import save_amended
    from underglass.shot.files.stamp import stamp

    file = lay_out(disk / "shot", "reeds")
    old = read_shot(file)
    new = replace(old, levels=(replace(old.levels[0], height=0.9), *old.levels[1:]), title="x" * 5000)
    before = contents(disk / "shot")
    with full(disk):
        with pytest.raises(ShotError, match="No space left"):
            save_amended(old, new, expected=stamp(file))
        assert contents(disk / "shot") == before
    assert save_amended(old, new, expected=stamp(file)) == (file,)
    assert read_shot(file).levels[0].height == 0.9
