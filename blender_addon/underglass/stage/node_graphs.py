# SPDX-License-Identifier: GPL-3.0-or-later
"""What a tree of nodes comes to, whoever drew it: what reaches its output, a line a fact, in words of the interface.

Names, places, reroutes, groups, muted nodes and nodes that lead nowhere do not count: two trees that render alike by
their make-up have the same lines.
"""

from collections.abc import Iterator
from typing import Any

from .rna_properties import properties

# Of a node, what decides nothing of what it gives.
_OF_THE_EDITOR = {
    *(
        "name",
        "label",
        "location",
        "location_absolute",
        "width",
        "height",
        "color",
        "use_custom_color",
        "select",
        "hide",
    ),
    *(
        "parent",
        "mute",
        "inputs",
        "outputs",
        "internal_links",
        "dimensions",
        "type",
        "warning_propagation",
        "color_tag",
    ),
    *(
        "is_active_output",
        "target",
        "node_tree",
        "image",
        "show_options",
        "show_preview",
        "show_texture",
        "active_item",
    ),
    *("active_input_index", "interface", "node_preview", "active_preview", "debug_zone_body_lazy_function_graph"),
}
_OF_A_SEQUENCE = {"SEQUENCE", "MOVIE"}
# Where a way through nested groups is at: the group nodes that it is in.
Nest = tuple[Any, ...]
# Groups that hold each other do not end.
MOST_LINKS = 1000


def output_of(tree: Any) -> Any:
    """Return the node that a render with Cycles takes the surface from; None where there is none."""
    return tree.get_output_node("CYCLES") if hasattr(tree, "get_output_node") else None


class Graph:
    """The nodes that reach the output of a material's ``tree``, numbered as they are met."""

    def __init__(self, tree: Any) -> None:
        self._numbers: dict[tuple[int, ...], int] = {}
        self.lines: list[str] = []
        # Each once, in the order met.
        self.images: list[tuple[int, Any]] = []
        self._output = output_of(tree)
        if self._output is None:
            self.lines.append("no output")
            return
        for socket in self._output.inputs:
            if socket.enabled and socket.identifier != "Thickness":
                met = self._source(socket, ())
                if met:
                    self.lines.append(f"link {met} > {socket.name}")

    def _source(self, socket: Any, nest: Nest) -> str:
        """Return what an input takes its value from, `n3.Color`; empty for one that nothing reaches."""
        out, nest, _ = _linked(socket, nest)
        return "" if out is None else f"n{self._number(out.node, nest)}.{out.identifier}"

    def _number(self, node: Any, nest: Nest) -> int:
        key = (*(group.as_pointer() for group in nest), node.as_pointer())
        if key in self._numbers:
            return self._numbers[key]
        number = self._numbers[key] = len(self._numbers)
        label = str(node.bl_label or node.bl_idname)
        self.lines.append(f"node n{number} {node.bl_idname} {label}")
        self.lines += [f"choice n{number} {label} › {words}" for words in _choices(node)]
        if getattr(node, "image", None) is not None:
            self.images.append((number, node.image))
        for socket in node.inputs:
            if not socket.enabled:
                continue
            met = self._source(socket, nest)
            if met:
                self.lines.append(f"link {met} > n{number} {label} › {socket.name}")
            elif (value := _value(_linked(socket, nest)[2])) is not None:
                self.lines.append(f"value n{number} {label} › {socket.name} = {value}")
        return number


def _choices(node: Any) -> Iterator[str]:
    """Yield what is chosen on a node beside its sockets: `Extension = CLIP`."""
    image = getattr(node, "image", None)
    moves = image is not None and image.source in _OF_A_SEQUENCE

    def leave_out(owner: str, key: str, thing: Any) -> bool:
        if owner == node.bl_rna.identifier:
            return key in _OF_THE_EDITOR or key.startswith("bl_") or (key == "image_user" and not moves)
        if owner == "ImageUser":
            return key == "frame_current"
        return key in {"is_registered_node_type"} or (owner == "CurveMapPoint" and key == "select")

    for path, prop in properties(node, leave_out).items():
        value = prop.value
        said = " ".join(_number_text(one) for one in value) if isinstance(value, tuple) else _number_text(value)
        yield f"{prop.words} ({path}) = {said}" if "." in path else f"{prop.words} = {said}"


def _value(socket: Any) -> str | None:
    """Return the value of an open socket, None for one that stands for something else than its value."""
    if socket.hide_value or not hasattr(socket, "default_value"):
        return None
    value = socket.default_value
    if value is None or isinstance(value, (bool, int, float, str)):
        return _number_text(value)
    if hasattr(value, "bl_rna"):
        return str(getattr(value, "name", value))
    return " ".join(_number_text(one) for one in value)


def _number_text(value: Any) -> str:
    # Single precision has seven digits; the last may go on a way through a file.
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def _linked(socket: Any, nest: Nest) -> tuple[Any, Nest, Any]:
    """Return the output that an input is fed from in the end, in which groups that is, and the socket at the end.

    Where nothing feeds it the output is None, and it has the value of that last socket.
    """
    last = socket
    for _ in range(MOST_LINKS):
        link = next((link for link in socket.links if not link.is_muted and link.is_valid), None)
        if link is None:
            return None, nest, last
        out, node = link.from_socket, link.from_node
        if node.mute:
            inner = next((one for one in node.internal_links if one.to_socket == out), None)
            if inner is None:
                return None, nest, last
            last = socket = inner.from_socket
        elif node.bl_idname == "NodeReroute":
            # a reroute that hangs in the air has no value of its own
            socket = node.inputs[0]
        elif node.bl_idname == "NodeGroupInput" and nest:
            last = socket = _by_identifier(nest[-1].inputs, out)
            nest = nest[:-1]
        elif node.bl_idname == "ShaderNodeGroup" and node.node_tree is not None:
            ends = [one for one in node.node_tree.nodes if one.bl_idname == "NodeGroupOutput" and one.is_active_output]
            if not ends:
                return None, nest, last
            nest = (*nest, node)
            last = socket = _by_identifier(ends[0].inputs, out)
        else:
            return out, nest, last
    return None, nest, last


def _by_identifier(sockets: Any, other: Any) -> Any:
    return next(one for one in sockets if one.identifier == other.identifier)
