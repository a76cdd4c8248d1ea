# SPDX-License-Identifier: GPL-3.0-or-later
"""EXR files through OpenEXR, and those that no frame can be judged by."""
