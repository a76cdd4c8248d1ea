# SPDX-License-Identifier: GPL-3.0-or-later
"""The tolerance of a proof where nobody says another one, pixels."""

DEFAULT_TOLERANCE_PX = 0.05
