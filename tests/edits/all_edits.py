# SPDX-License-Identifier: GPL-3.0-or-later
"""Every edit, by its name, in ``edits.EDITS``: importing the modules enters them. They need Blender."""

from edits import level_edits, material_edits, settings_edits, stage_edits, thing_edits, wear_edits

MODULES = (settings_edits, level_edits, material_edits, thing_edits, wear_edits, stage_edits)
