"""`python -m wreckwright.cli`."""

from wreckwright.cli import main

main()
