# SPDX-License-Identifier: GPL-3.0-or-later
"""A frame that kills whatever process renders its passes; which one, UNDERGLASS_TEST_POISON says.

Run as a script it is Blender's worker process with such a frame in it; as a preload of Dask it poisons its workers.
"""

import os
import runpy
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any


def poison() -> None:
    """Let the frame kill this process, from now on."""
    from underglass.stage import render_frames

    render = render_frames.pass_renderer

    @contextmanager
    def poisoned(*args: Any, **more: Any) -> Iterator[Callable[[int, float, Path], Any]]:
        with render(*args, **more) as of_frame:

            def once(frame: int, step: float, folder: Path) -> Any:
                if str(frame) == os.environ["UNDERGLASS_TEST_POISON"]:
                    os.kill(os.getpid(), signal.SIGKILL)
                return of_frame(frame, step, folder)

            yield once

    render_frames.pass_renderer = poisoned


def dask_setup(worker: Any) -> None:
    """Poison a worker of Dask, once it begins: Blender lives in the thread that imports it, and in no other."""
    from underglass_headless.engines import dask_worker

    begin = dask_worker._begin

    def begin_poisoned(neighbours: Any) -> None:
        begin(neighbours)
        poison()

    dask_worker._begin = begin_poisoned


if __name__ == "__main__":
    poison()
    sys.argv = sys.argv[1:]
    runpy.run_module("underglass_headless.in_blender.worker", run_name="__main__", alter_sys=True)
