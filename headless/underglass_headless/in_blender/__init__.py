# SPDX-License-Identifier: GPL-3.0-or-later
"""What runs in a process that holds Blender."""
