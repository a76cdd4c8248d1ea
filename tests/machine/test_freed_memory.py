# SPDX-License-Identifier: GPL-3.0-or-later
"""Freed memory stays with the process that is to read many frames, and is not held twice for that."""

import os
import platform
import subprocess
import sys

import pytest

pytestmark = pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="only glibc is told what to keep")

# Channels of 1828 × 1332 px in 32 bits, as one thread after another holds them.
SCRIPT = """
import resource, sys
from concurrent.futures import ThreadPoolExecutor
import numpy as np
from underglass_headless.machine.freed_memory import keep_freed_memory
from memory import peak
if sys.argv[1] == "kept":
    assert keep_freed_memory()
def frame(_):
    channels = [np.empty((1332, 1828), dtype=np.float32) for _ in range(6)]
    for channel in channels:
        channel[...] = 1.0
def faults():
    return resource.getrusage(resource.RUSAGE_SELF).ru_minflt
with ThreadPoolExecutor(2) as pool:
    list(pool.map(frame, range(8)))
    before = faults()
    list(pool.map(frame, range(20)))
    print(faults() - before, peak())
"""


def pages_and_peak(how: str) -> tuple[int, int]:
    world = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    done = subprocess.run([sys.executable, "-c", SCRIPT, how], capture_output=True, text=True, check=True, env=world)
    pages, peak = map(int, done.stdout.split())
    return pages, peak


def test_memory_of_earlier_frames_is_used_again_and_no_more_is_held() -> None:
    pages, peak = pages_and_peak("kept")
    usual_pages, usual_peak = pages_and_peak("not kept")
    assert pages < 0.2 * usual_pages
    assert peak < 1.2 * usual_peak
