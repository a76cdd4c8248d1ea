# SPDX-License-Identifier: GPL-3.0-or-later
"""Underglass: plans a multiplane camera shot, builds it in Blender, and knows what every frame should look like.

The package is a Blender extension and an ordinary library at once: importing it needs no Blender.
"""


def register() -> None:
    """Add everything of Underglass to this Blender, or raise and leave nothing behind."""
    from . import registration

    registration.register()


def unregister() -> None:
    """Take everything of Underglass out of this Blender again."""
    from . import registration

    registration.unregister()
