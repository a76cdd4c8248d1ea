# SPDX-License-Identifier: GPL-3.0-or-later
"""Position sheets: what every operator sets on every frame, as a page to print and as CSV."""
