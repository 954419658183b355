"""Plumbline as a program: python -m plumbline, or the command `plumbline`."""

import sys
from typing import NoReturn

__all__ = ["program"]


def program() -> NoReturn:
    """Run the command line; the libraries' own remarks are not for its user."""
    try:
        import gc
        import logging
        import warnings

        from .cli import main

        gc.set_threshold(
            100_000
        )  # what a command makes lives to its end: looking for circles in it takes a tenth of the time
        if not sys.warnoptions:
            warnings.simplefilter("ignore")
        logging.disable(logging.WARNING)
        sys.exit(main())
    except KeyboardInterrupt:
        sys.exit(130)


if __name__ == "__main__":
    program()
