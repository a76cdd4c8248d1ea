# SPDX-License-Identifier: GPL-3.0-or-later
"""What keys and drivers change in a material, its nodes and their groups, in the words of the interface."""

from collections.abc import Iterator
from typing import Any

from .. import blender_versions
from .moving_blocks import owners_of


def moving_lines(material: Any) -> Iterator[str]:
    """Yield a line for each property that keys, drivers or strips change: `moves Emission Strength = is keyed`."""
    for owner in owners_of(material):
        yield from _lines(owner, _group_of(owner, material))


def _group_of(owner: Any, material: Any) -> str:
    """Return which group of nodes ``owner`` is, as the end of a line's words."""
    if owner in (material, material.node_tree):
        return ""
    # an equals sign with blanks parts the words of a line
    return f" in {' '.join(owner.name.split()).replace(' = ', ' ')}"


def _lines(owner: Any, group: str) -> Iterator[str]:
    anim = owner.animation_data
    if anim is None:
        return
    driven = (f"moves {_words(owner, one.data_path)}{group} = {_driven(one.driver)}" for one in anim.drivers)
    yield from dict.fromkeys(driven)
    if anim.action is not None:
        curves = list(blender_versions.fcurves_of(owner))
        yield from dict.fromkeys(f"moves {_words(owner, one.data_path)}{group} = is keyed" for one in curves)
        if not curves:
            yield f"moves its material{group} = has an action without keys"
    if anim.nla_tracks:
        yield f"moves its material{group} = is moved by NLA tracks"


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
    if prop is None:
        return path
    # of the material itself nobody needs to be told whose it is
    return prop.name if not head else f"{getattr(owner, 'bl_label', owner.bl_rna.name)} {prop.name}"
