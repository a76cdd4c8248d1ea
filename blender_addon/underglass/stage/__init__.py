# SPDX-License-Identifier: GPL-3.0-or-later
"""The stage room: a plan as a Blender scene, and a Blender scene read back as numbers. Needs bpy."""
