"""`python -m nestwright` is the command `nestwright`."""

from nestwright.cli.main import run

if __name__ == "__main__":
    run()
