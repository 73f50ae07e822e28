"""The command page: the whole job in a browser."""

from __future__ import annotations

from pathlib import Path

import click

from sweatline.errors import JobError, MissingExtra


@click.command()
@click.argument("place", metavar="[FOLDER|JOB]", default=".")
@click.option("--share", is_flag=True, help="On the local network too, behind a token.")
@click.option("--port", type=click.IntRange(0, 65535), default=8517, show_default=True,
              help="0 takes any that is free.")  # fmt: skip
@click.option(
    "--broker",
    metavar="MQTT",
    help='Broker that instruments publish to, as "mqtt://192.168.1.5:1883".',
)
@click.option("--no-browser", is_flag=True, help="Do not open a browser.")
def page(place: str, share: bool, port: int, broker: str | None, no_browser: bool) -> None:
    """Serve the page: the whole job in a browser, on this machine or a phone beside it.

    FOLDER holds job files and logs; the present one by default. No request ever goes outside.
    """
    try:
        from sweatline.web.serve import serve
        from sweatline.web.workshop import Workshop
    except ImportError as error:
        raise MissingExtra(error.name or "fastapi", "page") from error
    path = Path(place)
    if not path.exists():
        raise JobError(what="no folder and no job file of this name", read=place)
    folder, first = (path, "") if path.is_dir() else (path.parent, path.stem)
    serve(Workshop(folder.resolve(), first), port=port, share=share, browser=not no_browser,
          tell=click.echo, broker=broker)  # fmt: skip
