# SPDX-License-Identifier: GPL-3.0-or-later
"""Optics: gates, thin lens and projection as pure functions over arrays."""
