# SPDX-License-Identifier: GPL-3.0-or-later
"""What a level is painted with: its art as light, clear where the art is clear.

The art's colours leave the render as they went in: emission of strength 1, alpha as the file has it (straight, or
multiplied into the colours already), no view transform. Blender interpolates such images with colour and alpha
multiplied together, so a clear neighbour does not darken an edge.
"""

import functools
import hashlib
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import bpy

from .. import blender_versions
from ..image.art_size import read_art
from ..reading.paint_facts import PaintImage, image_line
from ..shot.errors import Place, UnderglassError
from ..shot.model import Level, Shot
from . import stack_marks
from .moving_nodes import moving_lines
from .node_graphs import Graph


def paint(level: Level, shot: Shot, drawings: tuple[str, ...]) -> Any:
    """Return a new material that shows the art of ``level``; with drawings, the object's property chooses one."""
    material = bpy.data.materials.new(level.name)
    material[stack_marks.LEVEL] = level.name
    tree = blender_versions.node_tree(material)
    tree.nodes.clear()
    if drawings:
        files = [shot.art_path(level, name) for name in drawings]
        colour, alpha = _switched(tree, [_texture(tree, path, level) for path in files])
    else:
        texture = _texture(tree, shot.art_path(level), level)
        colour, alpha = texture.outputs["Color"], texture.outputs["Alpha"]
    _glow(tree, colour, alpha)
    return material


def signature(paints: Iterable[Any]) -> tuple[str, ...]:
    """Return what decides how a level with these materials looks, a line a fact: nodes, links, images.

    Two levels look alike where their signatures are the same but for the names of files; a slot without a material is
    bare.
    """
    lines: list[str] = []
    for index, paint in enumerate(paints):
        if paint is None:
            lines.append(f"{index} bare")
            continue
        tree = blender_versions.node_tree(paint)
        graph = Graph(tree)
        lines += [f"{index} {line}" for line in graph.lines]
        lines += [f"{index} {_image_line(number, image)}" for number, image in graph.images]
        lines += [f"{index} {line}" for line in moving_lines(paint)]
    return tuple(sorted(lines))


def moving(obj: Any) -> list[str]:
    """Return the lines of what keys, drivers or strips change in the materials that an object's faces wear."""
    paints = [(index, paint) for index, paint in enumerate(worn_by(obj)) if paint is not None]
    return [f"{index} {line}" for index, paint in paints for line in moving_lines(paint)]


def _image_line(number: int, image: Any) -> str:
    saved = "unsaved" if image.is_dirty else "saved"
    told = PaintImage(_digest(image), image.alpha_mode, image.source, saved, _colour_space(image), file_of(image).name)
    return image_line(number, told)


def _colour_space(image: Any) -> str:
    """Return the colour space of an image; what Blender would give its file where it does not know the one it has.

    A scene that was built under a studio's colour configuration names spaces that Blender's own does not have.
    """
    usual = "Linear Rec.709" if file_of(image).suffix.lower() == ".exr" else "sRGB"
    return str(image.colorspace_settings.name or usual)


def _digest(image: Any) -> str:
    """Return a digest of an image's bytes: the same art may lie elsewhere, on another machine or in the .blend."""
    if image.packed_file is not None:
        return hashlib.sha256(image.packed_file.data).hexdigest()[:16]
    path = file_of(image)
    try:
        stat = path.stat()
        return _file_digest(path, stat.st_mtime_ns, stat.st_size)
    except OSError:
        return "missing"


@functools.lru_cache(maxsize=512)
def _file_digest(path: Path, changed: int, size: int) -> str:
    """Return a digest of a file as it is now; asked again of the same state it is not read again."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()[:16]


def find_art_from(folder: Path, scene: Any) -> None:
    """Let the levels of ``scene`` find their art by a path from ``folder``, where the .blend will lie."""
    for _, obj in stack_marks.levels(scene):
        for image in images(obj):
            image.filepath = bpy.path.relpath(str(file_of(image)), start=str(folder))


def pack_art(scene: Any) -> None:
    """Put the art of the levels of ``scene`` into its .blend; UnderglassError for a file that cannot be packed."""
    for name, obj in stack_marks.levels(scene):
        for image in images(obj):
            try:
                image.pack()
            except RuntimeError as error:
                reason = " ".join(str(error).split())
                raise UnderglassError(
                    f"{file_of(image).name}, the art of {name}, cannot be packed into the .blend ({reason}); build"
                    " without --pack"
                ) from None


def file_of(image: Any) -> Path:
    """Return the file of an image; a path in a file that was linked counts from there."""
    return Path(bpy.path.abspath(image.filepath, library=image.library))


def images(obj: Any) -> list[Any]:
    """Return the images in the materials that an object's faces wear."""
    return [image for paint in worn_by(obj) if paint is not None for image in images_of(paint)]


def paints(obj: Any) -> list[Any]:
    """Return the material of each slot of an object, None for a bare one.

    A slot that is linked to the object and empty there shows what the mesh has.
    """
    own = getattr(obj.data, "materials", ())
    return [
        slot.material or (own[index] if slot.link == "OBJECT" and index < len(own) else None)
        for index, slot in enumerate(obj.material_slots)
    ]


def worn_by(obj: Any) -> list[Any]:
    """Return the materials that an object's faces wear; those of all slots where it has no face.

    A face that asks for a slot beyond the last wears the last.
    """
    found = paints(obj)
    worn = {min(polygon.material_index, len(found) - 1) for polygon in obj.data.polygons}
    return [paint for index, paint in enumerate(found) if index in worn or not worn]


def images_of(paint: Any) -> list[Any]:
    """Return the images that one material shows."""
    nodes = blender_versions.node_tree(paint).nodes
    return [node.image for node in nodes if node.type == "TEX_IMAGE" and node.image is not None]


def _image(path: Path, level: Level) -> Any:
    image = bpy.data.images.load(str(path.resolve()), check_existing=False)
    image.alpha_mode = "PREMUL" if read_art(path, said=Place(path)).premultiplied else "STRAIGHT"
    image[stack_marks.LEVEL] = level.name
    return image


def _texture(tree: Any, path: Path, level: Level) -> Any:
    node = tree.nodes.new("ShaderNodeTexImage")
    node.image = _image(path, level)
    node.extension = "CLIP"
    node.interpolation = "Linear"
    return node


def _switched(tree: Any, textures: list[Any]) -> tuple[Any, Any]:
    """Return colour and alpha of the drawing that the object's property names; clear when it names none."""
    chosen = tree.nodes.new("ShaderNodeAttribute")
    chosen.attribute_type = "OBJECT"
    chosen.attribute_name = stack_marks.DRAWING
    colour, alpha = None, None
    for index, texture in enumerate(textures):
        is_shown = tree.nodes.new("ShaderNodeMath")
        is_shown.operation = "COMPARE"
        is_shown.inputs[1].default_value = index
        is_shown.inputs[2].default_value = 0.5
        tree.links.new(chosen.outputs["Fac"], is_shown.inputs[0])
        colour = _mix(tree, "RGBA", is_shown.outputs[0], colour, texture.outputs["Color"])
        alpha = _mix(tree, "FLOAT", is_shown.outputs[0], alpha, texture.outputs["Alpha"])
    return colour, alpha


def _mix(tree: Any, kind: str, factor: Any, below: Any, above: Any) -> Any:
    """Return ``above`` where factor is 1, else ``below`` (nothing at all for the first)."""
    mix = tree.nodes.new("ShaderNodeMix")
    mix.data_type = kind
    enabled = [socket for socket in mix.inputs if socket.enabled]
    tree.links.new(factor, enabled[0])
    if below is not None:
        tree.links.new(below, enabled[1])
    elif kind == "FLOAT":
        enabled[1].default_value = 0.0
    else:
        enabled[1].default_value = (0.0, 0.0, 0.0, 1.0)
    tree.links.new(above, enabled[2])
    return next(socket for socket in mix.outputs if socket.enabled)


def _glow(tree: Any, colour: Any, alpha: Any) -> None:
    emission = tree.nodes.new("ShaderNodeEmission")
    clear = tree.nodes.new("ShaderNodeBsdfTransparent")
    mix = tree.nodes.new("ShaderNodeMixShader")
    output = tree.nodes.new("ShaderNodeOutputMaterial")
    tree.links.new(colour, emission.inputs["Color"])
    tree.links.new(alpha, mix.inputs["Fac"] if "Fac" in mix.inputs else mix.inputs[0])
    tree.links.new(clear.outputs[0], mix.inputs[1])
    tree.links.new(emission.outputs[0], mix.inputs[2])
    tree.links.new(mix.outputs[0], output.inputs["Surface"])
