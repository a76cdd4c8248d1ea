"""Every kind of fault that can be planted in a schedule or a scene, by its name, in ``kinds.KINDS``."""

import faults.frame_kinds
import faults.scene_kinds
import faults.schedule_kinds
import faults.shape_kinds
import faults.thing_kinds  # noqa: F401
