"""Doing units of work, in a process that holds Blender: one process holds one scene, and keeps it between units.

It judges nothing, and it never saves over a scene that it was given.
"""

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from typing import Any

import bpy
from threadpoolctl import threadpool_limits

from underglass import compat
from underglass.plan import make_plan
from underglass.proof.measure import Fit
from underglass.proof.passes import LEVELS_A_RENDER, measure_file, object_number
from underglass.shot import read_shot
from underglass.stage import build, readback, testframes

from ..proof.exr import read_passes, read_picture
from ..proof.scene_files import open_file, start_empty
from ..report.pictures import write_picture
from ..results import write_bytes
from .linked import Linked
from .making_jobs import require_unchanged
from .unit_results import named_by_content, result_text
from .units import PASSES, READ, Job, Unit

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
        self._set_up_for: int | None = None
        self._render: Callable[[int, Path], Iterator[testframes.PassFile]] | None = None
        self._open()

    def do(self, unit: Unit, folder: Path) -> Finish:
        """Do Blender's part of ``unit`` in ``folder``; what is returned makes the result whole.

        Where the scene has no camera, the result says that nothing was rendered.
        """
        if unit.kind == READ:
            return self._read(unit, folder)
        scene: Any = bpy.context.scene
        camera = scene.camera
        if camera is None or camera.type != "CAMERA":
            return lambda: self._write(unit, folder, rendered=False)
        return self._passes(unit, folder) if unit.kind == PASSES else self._picture(unit, folder)

    def _open(self) -> None:
        self._leave_setup()
        plan = make_plan(read_shot(self.job.shot))
        if self.job.scene:
            open_file(str(self.job.scene))
        else:
            start_empty()
            build.build(plan, bpy.context.scene, fingerprint=self.job.fingerprint)
        # Somebody may have saved meanwhile, or another machine have another file in its place.
        require_unchanged(self.job, plan.shot)
        self._plan = plan
        self._as_opened = True
        self._linked = Linked.of_open(self.job.scene) if self.job.scene else Linked()
        self._say("opened", blender=compat.VERSION_TEXT)

    def is_current(self) -> bool:
        """Say whether what the open .blend is linked from is still as it was when it was opened."""
        return self._linked.is_current()

    def _read(self, unit: Unit, folder: Path) -> Finish:
        if not self._as_opened:
            # What renders change in a scene would be read as somebody's mistakes.
            self._open()
        first, last = self.job.span
        reading = readback.read_scene(
            bpy.context.scene,
            range(first, last + 1),
            look_at=list(unit.frames),
            progress=lambda row: self._say("read", done=row),
        )
        if self.job.scene:
            reading = replace(reading, paints=build.planned_paints(self._plan))
        path = folder / f"{unit.name}.npz"
        reading.save(path)
        return lambda: self._write(unit, folder, named_by_content(path, unit))

    def _passes(self, unit: Unit, folder: Path) -> Finish:
        self._set_up(unit.step)
        assert self._render is not None
        files = []
        for file in self._render(unit.frame, folder):
            files.append(file)
            self._say("pass", frame=file.frame)

        def measure() -> None:
            fits: dict[int, Fit | None] = {}
            # On one thread of linear algebra, so that sums come out the same on every machine.
            with threadpool_limits(limits=1):
                for file in files:
                    found = measure_file(file.path, names=file.names, size=file.size, step=file.step, read=read_passes)
                    fits |= {object_number(name): fit for name, fit in found.items()}
            self._write(unit, folder, fits=fits)

        return measure

    def _picture(self, unit: Unit, folder: Path) -> Finish:
        if self._set_up_for is None:
            # The picture wants the same quiet scene as the passes: other layers, stamps and borders out of it.
            self._set_up(1)
        self._leave_setup()
        scene = bpy.context.scene
        ((_, path),) = testframes.render_pictures(
            scene, frames=[unit.frame], folder=folder, samples=unit.samples, depth_of_field=unit.depth_of_field
        )

        def develop() -> None:
            exr = named_by_content(path, unit)
            png = exr.with_suffix(".png")
            write_picture(read_picture(exr), png)
            self._write(unit, folder, exr, png)

        return develop

    def _set_up(self, step: int) -> None:
        """Set the scene up for passes on every ``step``-th pixel, unless it is."""
        if self._set_up_for == step:
            return
        self._leave_setup()
        self._as_opened = False
        self._render = self._setup.enter_context(
            testframes.pass_renderer(bpy.context.scene, step=step, batch=LEVELS_A_RENDER, threads=self.job.threads)
        )
        self._set_up_for = step

    def _leave_setup(self) -> None:
        self._setup.close()
        self._set_up_for = None

    def _write(
        self,
        unit: Unit,
        folder: Path,
        *files: Path,
        rendered: bool = True,
        fits: dict[int, Fit | None] | None = None,
    ) -> None:
        text = result_text(
            unit,
            blender=compat.VERSION_TEXT,
            files={path.name: path for path in files},
            rendered=rendered,
            fits=fits or {},
            depends=self._linked.depends,
        )
        write_bytes(folder / unit.result_file, text.encode())
