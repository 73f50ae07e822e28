"""``python -m sweatline``: the command without its script."""

from sweatline.cli.main import main

if __name__ == "__main__":
    raise SystemExit(main())
