# SPDX-License-Identifier: GPL-3.0-or-later
"""The panels of the sidebar's tab, in the order of the work."""

from . import lens_panel
from .findings_panel import UNDERGLASS_PT_findings
from .levels_panel import UNDERGLASS_PT_levels
from .move_panel import UNDERGLASS_PT_move
from .proof_panel import UNDERGLASS_PT_proof
from .readings_panel import UNDERGLASS_PT_readings
from .shot_panel import UNDERGLASS_PT_shot
from .stand_panel import UNDERGLASS_PT_stand
from .viewport_panel import UNDERGLASS_PT_viewport

CLASSES = (
    UNDERGLASS_PT_shot,
    UNDERGLASS_PT_stand,
    UNDERGLASS_PT_levels,
    UNDERGLASS_PT_move,
    UNDERGLASS_PT_readings,
    *lens_panel.CLASSES,
    UNDERGLASS_PT_findings,
    UNDERGLASS_PT_proof,
    UNDERGLASS_PT_viewport,
)
