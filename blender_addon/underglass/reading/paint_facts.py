# SPDX-License-Identifier: GPL-3.0-or-later
"""Paint: what decides how a level looks, a fact a line, and each line read again as a value.

`stage.node_graphs` and `stage.materials` write the lines; whoever compares two levels reads them here and nowhere else.
"""

from collections.abc import Iterable
from dataclasses import dataclass

BARE, NODE, CHOICE, VALUE, LINK, IMAGE, MOVES = "bare", "node", "choice", "value", "link", "image", "moves"


@dataclass(frozen=True)
class PaintFact:
    """One fact of a material: ``kind`` of fact, the number of its ``node``, ``what`` it is of, and its ``value``.

    A node has its type for ``what`` and its name in the interface for ``value``; what moves has what moves it. What a
    line of no known kind says is all in ``what``.
    """

    kind: str
    node: str = ""
    what: str = ""
    value: str = ""


@dataclass(frozen=True)
class PaintImage:
    """An image of a material: its file's ``digest`` and ``name``, and how it is read."""

    digest: str
    alpha: str
    source: str
    saved: str
    colour_space: str
    name: str


def image_line(node: int, image: PaintImage) -> str:
    """Return the line of an image; its file's name, which holds no slash, comes last."""
    return (
        f"{IMAGE} n{node} {image.digest} {image.alpha} {image.source} {image.saved} {image.colour_space} /{image.name}"
    )


def fact_of(line: str) -> PaintFact:
    """Return the fact that a line says, whatever it is."""
    _, _, said = line.partition(" ")
    kind, _, rest = said.partition(" ")
    if kind == MOVES:
        what, _, how = rest.partition(" = ")
        return PaintFact(kind, "", what, how)
    node, _, rest = rest.partition(" ")
    if kind == NODE:
        what, _, label = rest.partition(" ")
        return PaintFact(kind, node, what, label or what)
    if kind in (CHOICE, VALUE):
        what, _, value = rest.partition(" = ")
        return PaintFact(kind, node, what, value)
    if kind == IMAGE:
        return PaintFact(kind, node, rest)
    return PaintFact(kind, "", said)


def image_of(line: str) -> PaintImage | None:
    """Return the image that a line tells of; None for any other line."""
    fact = fact_of(line)
    if fact.kind != IMAGE:
        return None
    traits, _, name = fact.what.rpartition(" /")
    digest, alpha, source, saved, colour_space = (*traits.split(" ", 4), "", "", "", "", "")[:5]
    return PaintImage(digest, alpha, source, saved, colour_space, name)


def looks(paint: Iterable[str]) -> frozenset[str]:
    """Return the facts of a level's ``paint`` but for the names of its files: the same bytes look the same."""
    return frozenset(line.rpartition(" /")[0] if image_of(line) is not None else line for line in paint)
