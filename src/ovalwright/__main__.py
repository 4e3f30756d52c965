"""`python -m ovalwright` is the same as `ovalwright`."""

from ovalwright.cli import main

if __name__ == "__main__":
    main()
