# SPDX-License-Identifier: GPL-3.0-or-later
"""A proof from a shot file, by whichever engine, and the command that asks for it."""
