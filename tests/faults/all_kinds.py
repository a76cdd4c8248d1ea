# SPDX-License-Identifier: GPL-3.0-or-later
"""Every kind of fault that can be planted, by its name, in ``kinds.KINDS``: importing the modules enters them."""

from faults import frame_kinds, harmless_kinds, scene_kinds, schedule_kinds, shape_kinds, thing_kinds

MODULES = (scene_kinds, shape_kinds, thing_kinds, schedule_kinds, frame_kinds, harmless_kinds)
