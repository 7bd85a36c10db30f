"""Entry point of the command line."""

from __future__ import annotations


def main() -> None:
    """Run the command line on the process's arguments."""
    from wearstats.cli.main import app

    app(prog_name="wearstats")


if __name__ == "__main__":
    main()
