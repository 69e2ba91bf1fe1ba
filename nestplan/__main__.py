"""`python -m nestplan` is the same as the command `nestplan`."""

from nestplan.cli import main

if __name__ == "__main__":
    main()
