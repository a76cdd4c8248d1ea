"""Where a scene comes from: other files it is linked from, scripts that it holds, the shot that it was built from."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import bpy

from ..plan.reading import Origin
from . import marks


def origin_of(scene: Any) -> Origin:
    """Return where ``scene`` and what is in its file come from."""
    return Origin(
        libraries=_libraries(scene),
        scripts=tuple(sorted(_scripts())),
        expressions=sum(_runs_python(driver) for driver in _drivers()),
        built_from=tuple(str(collection[marks.SHOT]) for collection in marks.collections(scene)),
    )


def _scripts() -> set[str]:
    """Return the names of the texts that Blender would run by itself: as the file is opened, or as lines are drawn."""
    modules = {text.name for text in bpy.data.texts if text.use_module}
    for scene in bpy.data.scenes:
        for layer in scene.view_layers:
            if layer.freestyle_settings.mode == "SCRIPT":
                modules |= {module.script.name for module in layer.freestyle_settings.modules if module.script}
    return modules


def make_local(scene: Any) -> None:
    """Make the stack and whatever else is in ``scene`` its own, so that it can be given proof materials and hidden.

    From the collections down: what only one's own things use becomes one's own in its place, and keeps its name.
    """
    for block in (*scene.collection.children_recursive, *scene.objects):
        _own(block)
    stack = [obj for _, obj in marks.levels(scene)] + ([scene.camera] if scene.camera is not None else [])
    for obj in stack:
        _own(obj.data)


def _own(block: Any) -> None:
    if _is_borrowed(block):
        block.make_local(clear_liboverride=True)


def _is_borrowed(block: Any) -> bool:
    return block.library is not None or block.override_library is not None


def _libraries(scene: Any) -> tuple[str, ...]:
    """Return the names of the files that levels, camera, their meshes and their lens are linked from."""
    stack = [obj for _, obj in marks.levels(scene)] + ([scene.camera] if scene.camera is not None else [])
    files = set()
    for block in (part for obj in stack for part in (obj, obj.data) if part is not None):
        source = block if block.override_library is None else block.override_library.reference
        if source is not None and source.library is not None:
            files.add(Path(bpy.path.abspath(source.library.filepath)).name)
    return tuple(sorted(files))


def _drivers() -> Iterator[Any]:
    """Yield every driver in the file."""
    kinds = (kind.identifier for kind in bpy.data.bl_rna.properties if kind.type == "COLLECTION")
    # A set, for a block can be listed under its kind and again among all there are.
    for block in {block for kind in kinds for block in getattr(bpy.data, kind)}:
        for owner in (block, getattr(block, "node_tree", None)):
            anim = getattr(owner, "animation_data", None)
            if anim is not None:
                yield from (curve.driver for curve in anim.drivers)


def _runs_python(driver: Any) -> bool:
    """Return whether Blender needs Python for a driver: plain sums of its variables it works out by itself."""
    return bool(driver.type == "SCRIPTED" and not driver.is_simple_expression)
