"""Run the command line as ``python -m evenhand``."""

from evenhand.cli.main import main

if __name__ == "__main__":
    main()
