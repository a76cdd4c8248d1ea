# SPDX-License-Identifier: GPL-3.0-or-later
"""The proof: what was read and measured, held against the plan; pure functions, free of Blender and of files."""
