# SPDX-License-Identifier: GPL-3.0-or-later
"""What else there is about a scene: settings, things in the way, differences from the stack built afresh."""
