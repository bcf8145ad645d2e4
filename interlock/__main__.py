"""`python -m interlock`: the command line."""

from interlock.cli import main

if __name__ == "__main__":
    main()
