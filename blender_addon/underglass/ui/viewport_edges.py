# SPDX-License-Identifier: GPL-3.0-or-later
"""Painted edges in the viewport, dithered or blended, as the artist chooses. Renders of Cycles are the same."""

from typing import Any

from ..stage import stack_marks

DITHERED, BLENDED = "DITHERED", "BLENDED"
CHOICES = [
    (
        DITHERED,
        "Dithered",
        "Soft edges are grainy and settle after some samples. Levels always hide each other in the right order",
    ),
    (
        BLENDED,
        "Blended",
        "Soft edges are clean at once. It costs viewport time for every level that covers another, and frames that"
        " EEVEE renders carry no proof passes",
    ),
]

COSTS = {
    DITHERED: "grainy while it moves; always in the right order",
    BLENDED: "clean; more viewport time, and EEVEE renders no proof passes",
}


def apply(scene: Any) -> None:
    """Let the levels of ``scene`` show their edges as it says; a material that shows them so already is not touched."""
    for _, glass in stack_marks.levels(scene):
        for slot in glass.material_slots:
            paint = slot.material
            if paint is not None and stack_marks.is_ours(paint) and paint.library is None:
                wanted = scene.underglass.edges
                if paint.surface_render_method != wanted:
                    paint.surface_render_method = wanted


def changed(_settings: Any, context: Any) -> None:
    """Follow the choice."""
    apply(context.scene)
