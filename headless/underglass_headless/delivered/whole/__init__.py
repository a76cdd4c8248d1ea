# SPDX-License-Identifier: GPL-3.0-or-later
"""What was done to a delivered frame as a whole: another frame, a moved picture, other colours."""
