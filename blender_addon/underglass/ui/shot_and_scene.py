# SPDX-License-Identifier: GPL-3.0-or-later
"""Between a shot's files and a scene: building the one into the other, and reading it back."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import bpy

from ..plan import Plan, make_plan
from ..shot import Shot, ShotError, UnderglassError
from ..shot.files import read_shot, write_shot
from ..shot.files.new_folder import appearing
from ..shot.files.read import SHOT_FILE
from ..shot.files.shot_fingerprint import fingerprint
from ..shot.files.stamp import stamp, texts_of
from ..stage import bake_keys, build_stack, delivered_passes, hold_size, lens_marks, stack_marks
from . import (
    art_pixels,
    art_places,
    draft_shot,
    find_files,
    held_levels,
    live_stack,
    save_scene,
    shot_snapshots,
    viewport_edges,
)

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
    """Return whether files in this state are those that ``scene`` was read from, or that it wrote itself."""
    return state == scene.underglass.stamp or shot_snapshots.is_of(scene, state)


def open_shot(scene: Any, loaded: Loaded) -> tuple[Shot, tuple[str, ...]]:
    """Build a shot in ``scene`` and return it with remarks; levels that were held before are so where they still can.

    Of a shot that was not in ``scene`` before those are held whose moves keep their size.

    Raises UnderglassError, and leaves the scene as it was, where its stack is linked.
    """
    _require_own(scene)
    former = live_stack.shot_path(scene)
    is_reload = former is not None and former.resolve() == loaded.path.resolve()
    levels = hold_size.held_levels(scene) if is_reload else hold_size.holding_size(loaded.plan)
    build_stack.build(loaded.plan, scene, fingerprint=fingerprint(loaded.shot))
    viewport_edges.apply(scene)
    draft_shot.clear(scene)
    _remember(scene, loaded.path, loaded.state)
    live_stack.keep(scene, loaded.shot, loaded.plan)
    return loaded.shot, tuple(
        f"{level} holds its size no longer" for level in hold_size.hold_again(scene, loaded.plan, levels)
    )


def linked_again(scene: Any, loaded: Loaded) -> bool:
    """Let ``scene`` belong to the files that were ``loaded``, and keep its edits, where these are its own, moved.

    So it is where its own are no longer there and these say the same to the letter. Returns whether so.
    """
    former = live_stack.shot_path(scene)
    if former is None or former.is_file():
        return False
    known = shot_snapshots.of(former, scene.underglass.stamp)
    if known is not None:
        was = {place.name: text for place, text in known.texts.items()}
        if was != {place.name: text for place, text in texts_of(loaded.shot).items()}:
            return False
    elif loaded.state != scene.underglass.stamp:
        return False
    art_places.show_from(scene, loaded.shot, former=former.parent, folder=loaded.path.parent)
    shifted = scene.underglass.shifted
    _remember(scene, loaded.path, loaded.state)
    scene.underglass.shifted = shifted
    shot_snapshots.keep(loaded.path, loaded.state, shot=loaded.shot, plan=loaded.plan)
    return True


def follow_folder(scene: Any) -> bool:
    """Have ``scene`` belong to its shot where that was found, and show its art from there, if its folder was moved.

    Returns whether so. Raises UnderglassError where the shot cannot be read there.
    """
    settings, path = scene.underglass, live_stack.shot_path(scene)
    said = Path(bpy.path.abspath(settings.shot_file))
    if path is None or path == said or not path.is_file() or scene.library is not None:
        return False
    art_places.show_from(scene, live_stack.shot_on_disk(scene), former=said.parent, folder=path.parent)
    settings.shot_file = str(path)
    live_stack.forget(scene)
    return True


def new_from_art(scene: Any, source: Path, *, groups: str) -> tuple[Shot, tuple[str, ...]]:
    """Make a shot of layered art in a folder beside it and open it; an image stands for the folder it lies in."""
    from ..layered import import_art, read_layered

    if source.suffix.lower() in ONE_IMAGE:
        source = source.parent
    folder = _free_folder(source)
    _, remarks = import_art(read_layered(source), folder=folder, pixels=art_pixels.BlenderPixels(), groups=groups)
    return open_shot(scene, load(folder / SHOT_FILE))[0], remarks


def save_shot(scene: Any, *, cut: bool = False) -> str:
    """Read ``scene`` back into the files of its shot and return what changed, in a line.

    Moves that its range of frames leaves out go where they are to be ``cut``. Raises UnderglassError where the files
    changed since they were read, or where no stand could do what the scene does; the files are then as they were.
    """
    path = live_stack.shot_path(scene)
    assert path is not None
    were_held = hold_size.held_levels(scene)
    if were_held:
        # what was touched just after a reading went unnoticed, and is to count all the same
        live_stack.refresh(scene)
        held_levels.follow(scene)
    now = save_scene.save(scene, cut=cut)
    draft_shot.clear(scene)
    _remember(scene, path, stamp(path))
    live_stack.keep(scene, now.plan.shot, now.plan)
    rounded = now.revised.moved if scene.underglass.to_counter else ()
    _follow_files(scene, rounded)
    # what is keyed anew has no value of this frame before Blender has looked at it
    live_stack.shown_layer(scene).update()
    what = f"saved: {', '.join(now.changed)}" if now.changed else "nothing had changed"
    what += f"; dropped {', '.join(now.dropped)}" if now.dropped else ""
    keyed = [f"keyed by its law: {', '.join(f'{part} {axis}' for part, axis in rounded)}"] if rounded else []
    lost = [f"{level} holds its size no longer" for level in were_held if level not in hold_size.held_levels(scene)]
    return "; ".join([what, *keyed, *lost, *now.here, *now.remarks])


def save_elsewhere(scene: Any, folder: Path) -> Path:
    """Write ``scene`` as a shot into ``folder`` with its art and return its shot file; the scene then belongs to it.

    Where the shot's folder is gone, art is taken from where the scene's images have it.
    No file that lies there is touched; the shot is read back before its files take their places.
    """
    base, _, now = save_scene.revised(scene)
    with appearing(folder, beside_others=True) as making:
        try:
            art_places.copy_art(scene, now.shot, former=base.folder, folder=making)
        except ShotError as error:
            if base.folder.is_dir():
                raise
            raise UnderglassError(f"{base.folder}: {find_files.GONE}") from error
        make_plan(read_shot(write_shot(replace(now.shot, folder=making), making)))
    path = folder / SHOT_FILE
    art_places.show_from(scene, now.shot, former=base.folder, folder=folder)
    draft_shot.clear(scene)
    _remember(scene, path, stamp(path))
    _follow_files(scene)
    return path


def _require_own(scene: Any) -> None:
    """Raise UnderglassError where the stack in ``scene`` is another file's, which cannot be replaced here."""
    things = [glass for _, glass in stack_marks.levels(scene)] + stack_marks.cameras(scene)
    linked = next((thing for thing in things if thing.library is not None), None)
    if linked is not None:
        raise UnderglassError(
            f"{linked.name!r} is linked from {Path(linked.library.filepath).name}; make the stack local, or open the"
            " shot in a new scene"
        )


def _remember(scene: Any, path: Path, state: str) -> None:
    shot_snapshots.belongs(scene, state)
    settings = scene.underglass
    settings.shot_file, settings.stamp, settings.shifted = str(path), state, 0
    find_files.remember(scene, path)
    settings.typed_lens = ""
    live_stack.forget(scene)


def _follow_files(scene: Any, rounded: Sequence[tuple[str, str]] = ()) -> None:
    """Key the lens as the files now say: it reaches out with focus, and the level it is focused on may have moved.

    ``rounded`` axes, as (part, axis), were written as laws that the scene's curves only come near: they are keyed anew.
    """
    shot, plan = live_stack.shot_and_plan(scene)
    bake_keys.rebake_axes(scene, plan, rounded)
    for camera in stack_marks.cameras(scene):
        if camera.library is None and camera.data.library is None:
            bake_keys.bake_lens(camera, plan)
            camera.data.dof.use_dof = shot.camera.f_stop > 0
            lens_marks.forget(camera.data)
    for collection in stack_marks.collections(scene):
        collection[stack_marks.SHOT] = fingerprint(shot)
    delivered_passes.stamp(scene, shot, fingerprint=fingerprint(shot))


def _free_folder(source: Path) -> Path:
    """Return a folder beside ``source`` that is not there yet."""
    name = f"{source.stem or source.name} shot"
    folder, number = source.parent / name, 2
    while folder.exists():
        folder, number = source.parent / f"{name} {number}", number + 1
    return folder
