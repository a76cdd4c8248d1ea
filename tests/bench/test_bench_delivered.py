# SPDX-License-Identifier: GPL-3.0-or-later
"""How fast delivered frames are judged, side by side with nothing but reading them, in one run; and in how much memory.

The numbers to reach are for 1,000 frames of 8 levels at 1828×1332. So many would fill a disk: a few frames are written
and read again and again under other numbers, and what is done once for all frames is timed with 1,000 of them.
"""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from bench.test_bench_proof import eight_levels
from delivered.made_frames import Making, write_frames
from underglass.plan import make_plan
from underglass.shot.files import read_shot

pytestmark = [pytest.mark.bench, pytest.mark.timeout(1200)]

WRITTEN = 4
# So many that what is done once, and the first use of everything, weigh no more than among 1,000.
FRAMES = 96
LEAST_SPEED = 0.8
# Processor time depends less on what else the machine does.
LEAST_BY_PROCESSOR = 0.85


@pytest.fixture(scope="module")
def shot(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the shot of eight levels, with frames of its whole range in ``frames`` beside it, links to a few files."""
    folder = tmp_path_factory.mktemp("eight")
    shot_file = eight_levels(folder, frames=1000)
    plan = make_plan(read_shot(shot_file))
    making = Making(clear=plan.names[:-1])
    files = write_frames(plan, folder / "made", frames=range(1, WRITTEN + 1), making=making)
    for count in (FRAMES // 3, FRAMES):
        place = folder / f"frames {count}"
        place.mkdir()
        for frame in range(1, count + 1):
            (place / f"beauty.{frame:04d}.exr").symlink_to(files[(frame - 1) % WRITTEN])
    return shot_file


READ = """
import json, os, sys, time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
import OpenEXR
def read_only(path):
    with OpenEXR.File(str(path), separate_channels=True, num_threads=0) as file:
        return len(file.channels())
files = sorted(Path(sys.argv[2]).iterdir())
begun, used = time.perf_counter(), time.process_time()
with ThreadPoolExecutor(len(os.sched_getaffinity(0))) as pool:
    list(pool.map(read_only, files))
print(json.dumps({"reading": time.perf_counter() - begun, "cpu": time.process_time() - used}))
"""


def test_frames_are_judged_as_fast_as_they_are_read(shot: Path) -> None:
    place = shot.parent / f"frames {FRAMES}"
    # The better of two rounds each, taken in turn: other work on the machine must not decide.
    rounds = [(apart(READ, shot, place), apart(JUDGE, shot, place)) for _ in range(2)]
    reading = min(read["reading"] for read, _ in rounds)
    judged = min((found for _, found in rounds), key=lambda found: found["looking"])
    by_processor = min(read["cpu"] for read, _ in rounds) / min(found["cpu"] for _, found in rounds)
    ratio = reading / judged["looking"]
    print(f"\n{FRAMES} frames of 8 levels: read {reading:.1f} s, read and judged {judged['looking']:.1f} s")
    print(f"-> judging goes at {ratio:.2f} of the speed of reading (at least {LEAST_SPEED})")
    print(f"   by processor time at {by_processor:.2f}, with all that is done once (at least {LEAST_BY_PROCESSOR})")
    print(f"judging the range of 1,000 frames took {judged['judge']:.2f} s more")
    assert ratio >= LEAST_SPEED
    assert by_processor >= LEAST_BY_PROCESSOR
    assert judged["judge"] < 0.05 * reading / FRAMES * 1000


def test_memory_is_flat_in_the_number_of_frames(shot: Path) -> None:
    few, many = (apart(JUDGE, shot, shot.parent / f"frames {count}")["peak_mb"] for count in (FRAMES // 3, FRAMES))
    print(f"\npeak memory: {few:.0f} MB with {FRAMES // 3} frames, {many:.0f} MB with {FRAMES} -> {many / few:.2f} x")
    assert many / few <= 1.1


JUDGE = """
import json, sys, time
from pathlib import Path
from memory import peak
from underglass_headless.delivered.prove_delivered import DeliveredOptions, prove_delivered
shot, place = map(Path, sys.argv[1:])
options = DeliveredOptions(place, pictures=False)
used = time.process_time()
proof = prove_delivered(shot, options=options, keep=lambda *_: Path(), tell=lambda *_: None)
used, seconds = time.process_time() - used, proof.seconds
assert len(proof.plan.frames) == 1000
told = {"looking": seconds["read and measure"], "judge": seconds["judge"], "peak_mb": peak() / 2**20, "cpu": used}
print(json.dumps(told))
"""


def apart(script: str, shot: Path, place: Path) -> dict[str, float]:
    """Read or judge in a process of its own, so that its memory is its own."""
    command = [sys.executable, "-c", script, str(shot), str(place)]
    world = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    done = subprocess.run(command, check=True, capture_output=True, text=True, env=world)
    found: dict[str, float] = json.loads(done.stdout)
    return found
