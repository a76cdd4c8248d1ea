"""EXR files through OpenEXR, and those that no frame can be judged by."""
