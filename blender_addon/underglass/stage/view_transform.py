# SPDX-License-Identifier: GPL-3.0-or-later
"""How pictures of a built scene are shown: plainly, as the art is, with whatever colour configuration is in force.

Blender's own configuration has the view Standard. Another one, named by the variable OCIO, may not.
"""

import contextlib
from typing import Any

# Views that show light as its colours are, by the names that configurations give them; the first that is there counts.
PLAIN_VIEWS = ("Standard", "Un-tone-mapped", "sRGB")


def view_plainly(scene: Any) -> None:
    """Let pictures of ``scene`` that are no EXR show the art's colours as they are, where there is a view for it."""
    view = scene.view_settings
    for name in PLAIN_VIEWS:
        # Blender raises TypeError for what the configuration does not have.
        with contextlib.suppress(TypeError):
            view.view_transform = name
            break
    with contextlib.suppress(TypeError):
        view.look = "None"
    view.exposure, view.gamma = 0.0, 1.0


def view_says(scene: Any) -> list[str]:
    """Return what the colour configuration that is in force does to ``scene``, in words; nothing with Blender's own."""
    view = scene.view_settings.view_transform
    if view == PLAIN_VIEWS[0]:
        return []
    return [
        f"the colour configuration in force (variable OCIO) has no view Standard, so that pictures have the view"
        f" {view or 'of its own'}, and it may give art other colours: render without it"
    ]
