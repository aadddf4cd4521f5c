"""`python -m wreckwright.cli`."""

from wreckwright.cli import main

if __name__ == "__main__":
    main()
