# SPDX-License-Identifier: GPL-3.0-or-later
"""The planner: from a walk through the world to a stack of glasses and their moves, the best that the stand can do."""

from .answer import Answer, Clash, Prefer, Stack
from .answer_brief import plan_brief

__all__ = ["Answer", "Clash", "Prefer", "Stack", "plan_brief"]
