"""Every kind of fault that can be planted in a schedule or a scene, by its name, in ``kinds.KINDS``."""

import faults.scene_kinds
import faults.schedule_kinds  # noqa: F401
