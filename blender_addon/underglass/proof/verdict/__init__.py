# SPDX-License-Identifier: GPL-3.0-or-later
"""Whether each level passes, and the proof of it all."""
