"""Between a shot's files and a scene: building the one into the other, and reading it back."""

import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import bpy

from ..plan import Plan, make_plan
from ..proof.fingerprint import fingerprint
from ..revise.shots import Revised, revised_shot
from ..revise.standing import over_frames, standing_of
from ..shot import Shot, ShotError, UnderglassError, read_shot, write_shot
from ..shot.appearing import appearing
from ..shot.errors import Place
from ..shot.read import SHOT_FILE
from ..shot.saving import save_amended
from ..shot.stamp import stamp
from ..stage import bake, build, delivery, marks, materials, readback
from . import art_pixels, draft, live, viewport_edges
from .touched import said_of_the_scene

# The states of files that were read and written from this Blender: undo brings back settings, not files.
_written: set[str] = set()

# Files that are a layer each; any other is layered art itself, or nothing that can be read.
ONE_IMAGE = {".png", ".tif", ".tiff", ".exr"}


def scene_for(context: Any, *, new: bool) -> Any:
    """Return the scene to build in: the present one, or a new one that the window then shows."""
    if not new:
        return context.scene
    context.window.scene = bpy.data.scenes.new("Underglass")
    return context.window.scene


@dataclass(frozen=True)
class Loaded:
    """A shot that was read and planned, with the state that its files were in."""

    path: Path
    state: str
    shot: Shot
    plan: Plan


def load(path: Path) -> Loaded:
    """Return the shot at ``path``; raises ShotError where it cannot be read or planned."""
    state = stamp(path)
    shot = read_shot(path)
    return Loaded(path, state, shot, make_plan(shot))


def is_known(state: str, scene: Any) -> bool:
    """Return whether files in this state are those that ``scene`` was read from, or that were written from here."""
    return state == scene.underglass.stamp or state in _written


def open_shot(scene: Any, loaded: Loaded) -> Shot:
    """Build a shot in ``scene``; raises UnderglassError, and leaves the scene as it was, where its stack is linked."""
    _require_own(scene)
    build.build(loaded.plan, scene, fingerprint=fingerprint(loaded.shot))
    viewport_edges.apply(scene)
    draft.clear(scene)
    _remember(scene, loaded.path, loaded.state)
    live.keep(scene, loaded.shot, loaded.plan)
    return loaded.shot


def new_from_art(scene: Any, source: Path, *, groups: str) -> tuple[Shot, tuple[str, ...]]:
    """Make a shot of layered art in a folder beside it and open it; an image stands for the folder it lies in."""
    from ..layered import import_art, read_layered

    if source.suffix.lower() in ONE_IMAGE:
        source = source.parent
    folder = _free_folder(source)
    _, remarks = import_art(read_layered(source), folder=folder, pixels=art_pixels.BlenderPixels(), groups=groups)
    return open_shot(scene, load(folder / SHOT_FILE)), remarks


def revised(scene: Any, *, to_counter: bool) -> tuple[Shot, Revised]:
    """Return the shot that ``scene`` was built from, and the shot that it is now; evaluates every frame."""
    old, plan = live.shot_and_plan(scene)
    frames = scene.frame_start, scene.frame_end
    try:
        plan = over_frames(old, plan, frames=frames)
        with _frame_kept(scene):
            reading = readback.read_scene(scene, range(frames[0], frames[1] + 1))
        standing = standing_of(plan, reading=reading)
        return old, revised_shot(old, plan=plan, standing=standing, to_counter=to_counter)
    except ShotError as error:
        # it is about the scene, and not about a line of a file that nobody opened
        raise UnderglassError(said_of_the_scene(error)) from error


def save_shot(scene: Any) -> str:
    """Read ``scene`` back into the files of its shot and return what changed, in a line.

    Raises ShotError where the files changed since they were read, or where no stand could do what the scene does; the
    files are then as they were.
    """
    path = live.shot_path(scene)
    assert path is not None
    on_disk = stamp(path)
    if is_known(on_disk, scene):
        # undo may have gone back behind a save of our own
        _remember(scene, path, on_disk)
    old, now = revised(scene, to_counter=scene.underglass.to_counter)
    there = live.shot_on_disk(scene)
    redrawn = draft.changes(there, old) if old is not there else ()
    save_amended(there, now.shot, expected=scene.underglass.stamp)
    draft.clear(scene)
    _remember(scene, path, stamp(path))
    _follow_files(scene, now.moved if scene.underglass.to_counter else ())
    changed = dict.fromkeys((*redrawn, *now.changed))
    what = f"saved: {', '.join(changed)}" if changed else "nothing had changed"
    return "; ".join([what, *now.remarks])


def save_elsewhere(scene: Any, folder: Path) -> Path:
    """Write ``scene`` as a shot into ``folder`` with its art and return its shot file; the scene then belongs to it.

    No file that lies there is touched; the shot is read back before its files take their places.
    """
    old, now = revised(scene, to_counter=False)
    with appearing(folder, beside_others=True) as making:
        for level in now.shot.levels:
            for file in now.shot.art_files(level):
                if not (old.folder / file).is_file():
                    raise ShotError(Place(old.folder / file), "is no longer there", "put it back, or name another")
                (making / file).parent.mkdir(parents=True, exist_ok=True)
                shutil.copyfile(old.folder / file, making / file)
        read_shot(write_shot(replace(now.shot, folder=making), making))
    path = folder / SHOT_FILE
    _look_for_art(scene, old.folder, folder)
    draft.clear(scene)
    _remember(scene, path, stamp(path))
    _follow_files(scene)
    return path


def _look_for_art(scene: Any, former: Path, folder: Path) -> None:
    """Let the levels of ``scene`` show their art from ``folder`` in place of the ``former`` one."""
    for _, glass in marks.levels(scene):
        for image in materials.images(glass) if glass.library is None else ():
            place = Path(bpy.path.abspath(image.filepath)).resolve()
            if place.is_relative_to(former.resolve()):
                image.filepath = str(folder / place.relative_to(former.resolve()))


def _require_own(scene: Any) -> None:
    """Raise UnderglassError where the stack in ``scene`` is another file's, which cannot be replaced here."""
    things = [glass for _, glass in marks.levels(scene)] + marks.cameras(scene)
    linked = next((thing for thing in things if thing.library is not None), None)
    if linked is not None:
        raise UnderglassError(
            f"{linked.name!r} is linked from {Path(linked.library.filepath).name}; make the stack local, or open the"
            " shot in a new scene"
        )


def _remember(scene: Any, path: Path, state: str) -> None:
    _written.add(state)
    scene.underglass.shot_file, scene.underglass.stamp = str(path), state
    live.forget(scene)


def _follow_files(scene: Any, rounded: Sequence[tuple[str, str]] = ()) -> None:
    """Key the lens as the files now say: it reaches out with focus, and the level it is focused on may have moved.

    ``rounded`` axes, as (part, axis), were written as laws that the scene's curves only come near: they are keyed anew.
    """
    shot, plan = live.shot_and_plan(scene)
    bake.rebake_axes(scene, plan, rounded)
    for camera in marks.cameras(scene):
        if camera.library is None and camera.data.library is None:
            bake.bake_lens(camera, plan)
    for collection in marks.collections(scene):
        collection[marks.SHOT] = fingerprint(shot)
    delivery.stamp(scene, shot, fingerprint=fingerprint(shot))


def _free_folder(source: Path) -> Path:
    """Return a folder beside ``source`` that is not there yet."""
    name = f"{source.stem or source.name} shot"
    folder, number = source.parent / name, 2
    while folder.exists():
        folder, number = source.parent / f"{name} {number}", number + 1
    return folder


@contextmanager
def _frame_kept(scene: Any) -> Iterator[None]:
    frame, part = scene.frame_current, scene.frame_subframe
    try:
        yield
    finally:
        scene.frame_set(frame, subframe=part)
