# SPDX-License-Identifier: GPL-3.0-or-later
"""What Underglass adds to Blender's windows: settings, operators, panels, and drawing in the viewport."""
