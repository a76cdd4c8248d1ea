# SPDX-License-Identifier: GPL-3.0-or-later
"""Which part of the stand is off, and in what words."""
