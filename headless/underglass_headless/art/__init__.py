# SPDX-License-Identifier: GPL-3.0-or-later
"""Layered art that needs libraries: PSD files, pixels through Pillow, and the command that makes a shot of art."""
