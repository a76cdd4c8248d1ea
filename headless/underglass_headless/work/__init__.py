# SPDX-License-Identifier: GPL-3.0-or-later
"""A proof in units of work: what a unit is, what it leaves behind, and the folder where that lies."""
