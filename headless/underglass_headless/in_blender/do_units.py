# SPDX-License-Identifier: GPL-3.0-or-later
"""Doing units of work, in a process that holds Blender: one process holds one scene, and keeps it between units.

It judges nothing, and it never saves over a scene that it was given.
"""

from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import bpy
from threadpoolctl import threadpool_limits

from underglass import blender_versions
from underglass.plan import make_plan
from underglass.proof.levels_showing import coarse_steps
from underglass.proof.measure.passes import MeasuredFrame, PassFile, measure_frame
from underglass.shot.files import read_shot
from underglass.stage import build_stack, camera_cuts, read_scene, render_frames
from underglass.stage.scene_changes import with_changes

from ..exr.read_exr import read_passes, read_picture
from ..report.rendered_pictures import write_picture
from ..results import write_bytes
from ..work.proof_job import require_unchanged
from ..work.unit_results import named_by_content, result_text
from ..work.units_of_work import PASSES, READ, SWEEP, Job, Unit
from .linked_files import Linked
from .scene_files import open_file, start_empty

Say = Callable[..., None]
# What is left to do of a unit once Blender has no part in it any more; it may be done in another thread.
Finish = Callable[[], None]


class Bench:
    """The scene of ``job``, open in this process, and what it is set up for; ``say`` hears of it as work goes on.

    Raises SceneFileError, ShotError, UnderglassError.
    """

    def __init__(self, job: Job, *, say: Say = lambda event, **facts: None) -> None:
        self.job, self._say = job, say
        self._setup = ExitStack()
        self._render: render_frames.Render | None = None
        self._is_quiet = False
        # A frame is measured while the next one is rendered.
        self._measuring = ThreadPoolExecutor(max_workers=1)
        self._open()

    def do(self, unit: Unit, folder: Path) -> Finish:
        """Do Blender's part of ``unit`` in ``folder``; what is returned makes the result whole.

        Where the scene has no camera, the result says that nothing was rendered.
        """
        if unit.kind == READ:
            return self._read(unit, folder)
        scene: Any = bpy.context.scene
        # A marker can make one film that is not the active one as the scene is opened.
        camera = camera_cuts.shot_camera(scene)
        if camera is None or camera.type != "CAMERA":
            return lambda: self._write(unit, folder, rendered=False)
        return self._passes(unit, folder) if unit.kind in {SWEEP, PASSES} else self._picture(unit, folder)

    def _open(self) -> None:
        self._leave_setup()
        plan = make_plan(read_shot(self.job.shot))
        if self.job.scene:
            open_file(str(self.job.scene))
        else:
            start_empty()
            build_stack.build(plan, bpy.context.scene, fingerprint=self.job.fingerprint)
        # Somebody may have saved meanwhile, or another machine have another file in its place.
        require_unchanged(self.job, plan.shot)
        self._plan = plan
        self._steps = coarse_steps(plan)
        self._as_opened, self._is_quiet = True, False
        self._linked = Linked.of_open(self.job.scene) if self.job.scene else Linked()
        self._say("opened", blender=blender_versions.VERSION_TEXT)

    def is_current(self) -> bool:
        """Say whether what the open .blend is linked from is still as it was when it was opened."""
        return self._linked.is_current()

    def _read(self, unit: Unit, folder: Path) -> Finish:
        if not self._as_opened:
            # What renders change in a scene would be read as somebody's mistakes.
            self._open()
        first, last = self.job.span
        reading = read_scene.read_scene(
            bpy.context.scene,
            range(first, last + 1),
            look_at=list(unit.frames),
            progress=lambda row: self._say("read", done=row),
        )
        if self.job.scene:
            reading = with_changes(bpy.context.scene, self._plan, reading, looks=list(unit.frames))
        path = folder / f"{unit.name}.npz"
        reading.save(path)
        return lambda: self._write(unit, folder, named_by_content(path, unit))

    def _passes(self, unit: Unit, folder: Path) -> Finish:
        render = self._set_up()
        measured: dict[int, Future[MeasuredFrame]] = {}
        for frame in unit.frames:
            coarse = int(self._steps[frame - self.job.span[0]])
            step = coarse if unit.kind == SWEEP else min(unit.step, coarse)
            files = list(render(frame, step, folder))
            self._say("pass", frame=frame)
            if measured:
                # The passes of one frame at a time lie on the disk beside those that are being made.
                next(reversed(measured.values())).result()
            measured[frame] = self._measuring.submit(_measure, files)

        return lambda: self._write(unit, folder, measured={frame: one.result() for frame, one in measured.items()})

    def _picture(self, unit: Unit, folder: Path) -> Finish:
        if not self._is_quiet:
            # The picture wants the same quiet scene as the passes: other layers, stamps and borders out of it.
            self._set_up()
        self._leave_setup()
        scene = bpy.context.scene
        ((_, path),) = render_frames.render_pictures(
            scene,
            frames=[unit.frame],
            folder=folder,
            samples=unit.samples,
            depth_of_field=unit.depth_of_field,
            width=unit.width,
        )

        def develop() -> None:
            exr = named_by_content(path, unit)
            png = exr.with_suffix(".png")
            write_picture(read_picture(exr), png)
            self._write(unit, folder, exr, png)

        return develop

    def _set_up(self) -> render_frames.Render:
        """Set the scene up for passes, unless it is, and return what renders them."""
        if self._render is None:
            self._as_opened, self._is_quiet = False, True
            self._render = self._setup.enter_context(
                render_frames.pass_renderer(bpy.context.scene, threads=self.job.threads)
            )
        return self._render

    def _leave_setup(self) -> None:
        self._setup.close()
        self._render = None

    def _write(
        self,
        unit: Unit,
        folder: Path,
        *files: Path,
        rendered: bool = True,
        measured: dict[int, MeasuredFrame] | None = None,
    ) -> None:
        text = result_text(
            unit,
            blender=blender_versions.VERSION_TEXT,
            files={path.name: path for path in files},
            rendered=rendered,
            measured=measured or {},
            depends=self._linked.depends,
        )
        write_bytes(folder / unit.result_file, text.encode())


def _measure(files: Sequence[PassFile]) -> MeasuredFrame:
    """Return what the files of one frame say; on one thread of linear algebra, so that sums are the same everywhere."""
    with threadpool_limits(limits=1):
        return measure_frame(files, read=read_passes)
