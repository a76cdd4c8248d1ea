# SPDX-License-Identifier: GPL-3.0-or-later
"""Frames rendered elsewhere, proved without rendering: the command, and how each frame is looked at."""
