"""`python -m gritfuncs` is the command `gritfuncs`."""
import sys

from .cli import main

if __name__ == "__main__":
    sys.exit(main())
