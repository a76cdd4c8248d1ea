"""Which part of the stand is off, and in what words."""
