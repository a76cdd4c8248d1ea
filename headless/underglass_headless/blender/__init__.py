# SPDX-License-Identifier: GPL-3.0-or-later
"""Blender as a process of its own, seen from outside."""
