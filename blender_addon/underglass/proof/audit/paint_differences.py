# SPDX-License-Identifier: GPL-3.0-or-later
"""In what a level's material differs from the one that would be built now, in the words of the interface."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from ...reading.paint_facts import CHOICE, MOVES, NODE, VALUE, PaintFact, PaintImage, fact_of, image_of, looks
from ..wording import together

MOST_SAID = 3
ALPHAS = {"STRAIGHT": "Straight", "PREMUL": "Premultiplied", "CHANNEL_PACKED": "Channel Packed", "NONE": "None"}
SOURCES = {"FILE": "Single Image", "SEQUENCE": "Image Sequence", "MOVIE": "Movie", "TILED": "UDIM Tiles"}


def images_in(lines: Sequence[str]) -> list[PaintImage]:
    """Return the images of a material, in order of its lines."""
    return [image for line in lines if (image := image_of(line)) is not None]


def moving_words(lines: Iterable[str]) -> str:
    """Return what of a material keys, drivers or strips change, in words; empty where nothing does."""
    facts = [fact_of(line) for line in lines]
    return ", ".join(together((fact.what, fact.value) for fact in facts if fact.kind == MOVES))


def moves_in(lines: Sequence[str]) -> bool:
    """Return whether keys or drivers change a material."""
    return any(fact_of(line).kind == MOVES for line in lines)


def differences(wanted: Sequence[str], here: Sequence[str]) -> str:
    """Return in words what is other in a material: what moves, then values, then nodes."""
    more = [fact_of(line) for line in sorted(looks(here) - looks(wanted))]
    less = [fact_of(line) for line in sorted(looks(wanted) - looks(here))]
    moving = [fact for fact in more if fact.kind == MOVES]
    said = together((fact.what, fact.value) for fact in moving)
    said += _values(more, less, {fact.what for fact in moving})
    said += _readings(images_in(wanted), images_in(here))
    if not said:
        said = list(_nodes([fact_of(line) for line in wanted], [fact_of(line) for line in here]))
    if said:
        return ", ".join(said[:MOST_SAID]) + (" …" if len(said) > MOST_SAID else "")
    count = [sum(fact_of(line).kind == NODE for line in lines) for lines in (wanted, here)]
    return "its nodes are linked in another way" if count[0] == count[1] else "it has other nodes"


def _values(more: Sequence[PaintFact], less: Sequence[PaintFact], moving: set[str]) -> Iterator[str]:
    """Yield each value that is another, but those that keys or drivers give."""
    built = {(fact.kind, fact.node, fact.what): fact.value for fact in less}
    for fact in more:
        before = built.get((fact.kind, fact.node, fact.what))
        if fact.kind in (CHOICE, VALUE) and before is not None and fact.what.replace(" › ", " ") not in moving:
            yield f"{fact.what} is {fact.value}, built {before}"


def _readings(built: Sequence[PaintImage], here: Sequence[PaintImage]) -> Iterator[str]:
    """Yield how an image is read that is read as it was not built."""
    for was, now in zip(built, here, strict=False):
        if now.colour_space != was.colour_space:
            yield f"the Color Space of its image is {now.colour_space}, built {was.colour_space}"
        if now.alpha != was.alpha:
            yield f"the Alpha of its image is {ALPHAS.get(now.alpha, now.alpha)}, built {ALPHAS.get(was.alpha)}"
        if now.source != was.source:
            yield f"the Source of its image is {SOURCES.get(now.source, now.source)}, built {SOURCES.get(was.source)}"
        if now.saved != was.saved:
            yield "its image is painted on and not saved"


def _nodes(built: Sequence[PaintFact], here: Sequence[PaintFact]) -> Iterator[str]:
    """Yield which nodes there are more and fewer of."""
    kinds = Counter(fact.value for fact in here if fact.kind == NODE)
    kinds.subtract(fact.value for fact in built if fact.kind == NODE)
    for label, count in sorted(kinds.items()):
        if count:
            article = "an" if label[:1] in "AEIOU" else "a"
            yield f"it has {article} {label} node" if count > 0 else f"{article} {label} node of it is gone"
