"""`python -m quarterjack` is the command `quarterjack`."""

from quarterjack.cli import main

if __name__ == "__main__":
    main(prog_name="quarterjack")
