"""`python -m laminate` is the command `laminate`."""

from laminate.cli.app import main

if __name__ == "__main__":
    main()
