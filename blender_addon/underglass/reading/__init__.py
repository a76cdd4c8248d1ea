# SPDX-License-Identifier: GPL-3.0-or-later
"""What was read of a Blender scene, and whether a file of it is sound. Free of bpy, and of the plan."""
