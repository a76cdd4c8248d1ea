"""What keys and drivers change in a tree of nodes, in the words of the interface."""

from collections.abc import Iterator
from typing import Any

from .. import compat
from .moving import owners_of


def moving_lines(tree: Any) -> Iterator[str]:
    """Yield a line for each property of ``tree`` that keys, drivers or strips change: `moves Emission Strength = …`.

    What moves in groups of it counts as well.
    """
    for one in owners_of(tree):
        yield from _lines_of(one)


def _lines_of(tree: Any) -> Iterator[str]:
    anim = tree.animation_data
    if anim is None:
        return
    yield from dict.fromkeys(f"moves {_words(tree, one.data_path)} = {_driven(one.driver)}" for one in anim.drivers)
    if anim.action is not None:
        curves = list(compat.fcurves_of(tree))
        yield from dict.fromkeys(f"moves {_words(tree, one.data_path)} = is keyed" for one in curves)
        if not curves:
            yield "moves its material = has an action without keys"
    if anim.nla_tracks:
        yield "moves its material = is moved by NLA tracks"


def _driven(driver: Any) -> str:
    if driver.type == "SCRIPTED":
        return f"is driven by {' '.join(driver.expression.split())}"
    return "is driven"


def _words(tree: Any, path: str) -> str:
    """Return the property that ``path`` names, `Emission Strength`; the path itself where nothing is there."""
    head, _, key = path.rpartition(".")
    try:
        owner = tree.path_resolve(head) if head else tree
    except ValueError:
        return path
    node = getattr(owner, "node", None)
    if node is not None:
        return f"{node.bl_label} {owner.name}"
    prop = owner.bl_rna.properties.get(key.partition("[")[0]) if hasattr(owner, "bl_rna") else None
    return f"{getattr(owner, 'bl_label', owner.bl_rna.name)} {prop.name}" if prop is not None else path
