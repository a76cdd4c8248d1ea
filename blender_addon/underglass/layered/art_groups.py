# SPDX-License-Identifier: GPL-3.0-or-later
"""What of a painting comes to the stand: layers that show, with its groups taken apart or each painted into one."""

from collections.abc import Iterator
from dataclasses import replace
from enum import StrEnum

from ..shot.words import shown
from .art_layers import NORMAL, ArtGroup, ArtLayer, LayeredArt, Part


class Groups(StrEnum):
    """What becomes of a group: each of its layers is a level of its own, or the whole group is one level."""

    KEEP = "keep"
    FLATTEN = "flatten"


def parts_that_show(art: LayeredArt, *, groups: Groups) -> tuple[tuple[Part, ...], tuple[str, ...]]:
    """Return the parts of ``art`` that become levels, nearest the lens first, and remarks on what is lost.

    With Groups.KEEP they are layers alone, named `group / layer`; with Groups.FLATTEN groups stay at the top.
    """
    remarks: list[str] = []
    pruned = tuple(_pruned(art.layers, remarks))
    parts = tuple(_taken_apart(pruned, remarks)) if groups is Groups.KEEP else pruned
    return parts, tuple(remarks)


def _pruned(parts: tuple[Part, ...], remarks: list[str]) -> Iterator[Part]:
    """Yield what shows, with groups freed of what does not."""
    for part in parts:
        kind = "group " if isinstance(part, ArtGroup) else ""
        if not part.visible or part.opacity == 0:
            why = "hidden" if not part.visible else "wholly clear (opacity 0)"
            remarks.append(f"{kind}{shown(part.name)} is {why} and was left out")
            continue
        if part.blend != NORMAL:
            remarks.append(f"{kind}{shown(part.name)} is blended by {part.blend}; on the stand it is laid over plainly")
        if isinstance(part, ArtLayer):
            yield part
        elif layers := tuple(_pruned(part.layers, remarks)):
            yield replace(part, layers=layers)
        else:
            remarks.append(f"group {shown(part.name)} has nothing in it that shows and was left out")


def _taken_apart(parts: tuple[Part, ...], remarks: list[str], above: str = "", opacity: float = 1.0) -> Iterator[Part]:
    """Yield the layers in ``parts``; each is named after its groups and has their opacity besides its own."""
    for part in parts:
        name, own = f"{above}{part.name}", opacity * part.opacity
        if isinstance(part, ArtLayer):
            yield replace(part, name=name, opacity=own)
            continue
        if part.opacity < 1 and len(part.layers) > 1:
            remarks.append(
                f"group {shown(part.name)} gave its opacity to each of its layers: they show through each other"
            )
        yield from _taken_apart(part.layers, remarks, f"{name} / ", own)
