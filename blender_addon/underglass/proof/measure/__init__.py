# SPDX-License-Identifier: GPL-3.0-or-later
"""What pixels and the evaluated scene show, whatever was planned."""
