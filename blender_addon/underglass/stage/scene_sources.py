# SPDX-License-Identifier: GPL-3.0-or-later
"""Where a scene comes from: other files it is linked from, scripts that it holds, the shot that it was built from."""

import ast
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import bpy

from .. import blender_versions
from ..reading.scene_reading import Origin
from . import stack_marks

# Words by which a script gets at what is rendered, or at what runs later.
_ACTING = {
    *("handlers", "timers", "driver_namespace", "data", "ops", "context", "app", "msgbus", "exec", "eval", "compile"),
    *("__import__", "getattr", "setattr", "open", "globals", "locals", "vars"),
}
_KNOWN_MODULES = {"bpy", "math", "random", "mathutils", "bl_ui", "typing", "re", "string", "collections"}


def origin_of(scene: Any) -> Origin:
    """Return where ``scene`` and what is in its file come from."""
    return Origin(
        libraries=_libraries(scene),
        scripts=tuple(sorted(_scripts())),
        expressions=sum(_runs_python(curve.driver) for _, curve in _drivers()),
        acting=(*_acting_scripts(), *_acting_drivers(scene)),
        built_from=tuple(str(collection[stack_marks.SHOT]) for collection in stack_marks.collections(scene)),
    )


def _acting_scripts() -> Iterator[str]:
    """Yield, in words, the texts that Blender would run and that can change what is rendered."""
    for name in sorted(_scripts()):
        text = bpy.data.texts.get(name)
        if text is not None and can_act(text.as_string()):
            yield f"the script {name}, marked to run"


def can_act(source: str) -> bool:
    """Return whether a script can do more than define things, as it is run or in what it hands to Blender.

    Classes of panels and operators act only when somebody asks for them, so what stands in a class does not count.
    """
    try:
        tree = ast.parse(source)
    except (SyntaxError, ValueError, RecursionError):
        # Blender cannot run it either.
        return False
    waiting: list[ast.AST] = list(tree.body)
    while waiting:
        node = waiting.pop()
        if isinstance(node, ast.ClassDef):
            continue
        if isinstance(node, ast.Attribute) and node.attr in _ACTING:
            return True
        if isinstance(node, ast.Name) and node.id in _ACTING:
            return True
        if isinstance(node, (ast.Import, ast.ImportFrom)):
            names = {alias.name.partition(".")[0] for alias in node.names} | {getattr(node, "module", None) or ""}
            if not {name.partition(".")[0] for name in names if name} <= _KNOWN_MODULES | _named(node):
                return True
        waiting.extend(ast.iter_child_nodes(node))
    return False


def _named(node: Any) -> set[str]:
    """Return what an import takes out of a module that is known."""
    if isinstance(node, ast.ImportFrom) and (node.module or "").partition(".")[0] in _KNOWN_MODULES:
        return {alias.name for alias in node.names}
    return set()


def _acting_drivers(scene: Any) -> Iterator[str]:
    """Yield, in words, the drivers with Python in them that drive something of the stack, or of its render."""
    seen = set(_rendered_blocks(scene))
    for block, curve in _drivers():
        if block in seen and _runs_python(curve.driver) and not curve.mute and not _is_a_note(block, curve):
            yield f"the driver with Python on {curve.data_path} of {block.name}"


def _is_a_note(block: Any, curve: Any) -> bool:
    """Return whether a driver drives a property of somebody's own that no render reads."""
    return isinstance(block, bpy.types.Scene) and curve.data_path.startswith('["')


def _rendered_blocks(scene: Any) -> Iterator[Any]:
    """Yield the blocks that decide what is rendered: the scene, its objects and what they wear, and their trees."""
    blocks = [scene, scene.world, blender_versions.compositor_of(scene)]
    for obj in scene.objects:
        blocks += [obj, obj.data, getattr(obj.data, "shape_keys", None)]
        blocks += [slot.material for slot in obj.material_slots]
    for block in blocks:
        if block is not None:
            yield block
            tree = getattr(block, "node_tree", None)
            if tree is not None:
                yield tree


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
    stack = [obj for _, obj in stack_marks.levels(scene)] + ([scene.camera] if scene.camera is not None else [])
    for obj in stack:
        _own(obj.data)


def _own(block: Any) -> None:
    if _is_borrowed(block):
        block.make_local(clear_liboverride=True)


def _is_borrowed(block: Any) -> bool:
    return block.library is not None or block.override_library is not None


def _libraries(scene: Any) -> tuple[str, ...]:
    """Return the names of the files that levels, camera, their meshes and their lens are linked from."""
    stack = [obj for _, obj in stack_marks.levels(scene)] + ([scene.camera] if scene.camera is not None else [])
    files = set()
    for block in (part for obj in stack for part in (obj, obj.data) if part is not None):
        source = block if block.override_library is None else block.override_library.reference
        if source is not None and source.library is not None:
            files.add(Path(bpy.path.abspath(source.library.filepath)).name)
    return tuple(sorted(files))


def _drivers() -> Iterator[tuple[Any, Any]]:
    """Yield every driver in the file as its curve, with the block that it is of."""
    kinds = (kind.identifier for kind in bpy.data.bl_rna.properties if kind.type == "COLLECTION")
    # A set, for a block can be listed under its kind and again among all there are.
    for block in {block for kind in kinds for block in getattr(bpy.data, kind)}:
        for owner in (block, getattr(block, "node_tree", None)):
            anim = getattr(owner, "animation_data", None)
            if anim is not None:
                yield from ((owner, curve) for curve in anim.drivers)


def _runs_python(driver: Any) -> bool:
    """Return whether Blender needs Python for a driver: plain sums of its variables it works out by itself."""
    return bool(driver.type == "SCRIPTED" and not driver.is_simple_expression)
