"""`python -m nestwright` is the command `nestwright`."""

import sys

if __name__ == "__main__":
    try:
        from nestwright.cli.main import run
    except ModuleNotFoundError as error:  # the sources alone
        from nestwright.extras import not_installed

        if (error.name or "nestwright").split(".")[0] == "nestwright":
            raise
        print(f"nestwright: {not_installed(str(error.name))}", file=sys.stderr)
        sys.exit(2)
    run()
