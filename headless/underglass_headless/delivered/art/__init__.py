# SPDX-License-Identifier: GPL-3.0-or-later
"""What the plan and the art let a frame show, and what is found of it in the picture."""
