"""Runs the command line as ``python -m measure``."""

from measure.cli import main

if __name__ == "__main__":
    main()
