# SPDX-License-Identifier: GPL-3.0-or-later
"""What files of frames say: names and numbers, channels, proof passes."""
