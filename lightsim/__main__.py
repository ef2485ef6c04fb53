"""`python -m lightsim`, the same as the command `lightsim`."""

from lightsim.cli import main

if __name__ == "__main__":
    main(prog_name="lightsim")
