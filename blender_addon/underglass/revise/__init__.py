# SPDX-License-Identifier: GPL-3.0-or-later
"""Revising: from a scene that an artist has edited back to a shot; free of Blender, which has been read already."""
