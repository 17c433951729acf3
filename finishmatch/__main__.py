"""Run the terminal face with ``python -m finishmatch``."""

from finishmatch.cli import main

main()
