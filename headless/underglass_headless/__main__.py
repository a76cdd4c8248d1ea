"""``python -m underglass_headless`` is the same as the command ``underglass``."""

from .cli import main

main()
