"""Sending readings as an instrument would: over HTTP, to a broker, or into a table that grows."""

from __future__ import annotations

import csv
import json
import urllib.error
import urllib.request
import uuid
from collections.abc import Sequence
from contextlib import AbstractContextManager
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Final, Protocol, Self
from urllib.parse import parse_qs, urlsplit

from paho.mqtt import publish as mqtt

from sweatline.errors import JobError, StoreError
from sweatline.log.feed import Sent
from sweatline.training.session import Round
from sweatline.web.sources import TOPIC, Broker

CYLINDER: Final = 5.0  # kg on the scale when a simulated charging begins
_PATIENCE: Final = 10.0  # s


class Publisher(Protocol):
    """Takes the readings of one moment."""

    def send(self, readings: Sequence[Sent]) -> None: ...


def _message(readings: Sequence[Sent]) -> dict[str, Any]:
    told: list[dict[str, Any]] = []
    for r in readings:
        one: dict[str, Any] = {"sensor": r.sensor, "value": r.value, "unit": r.unit}
        if r.at is not None:
            one["at"] = datetime.fromtimestamp(r.at, UTC).isoformat()
        told.append(one)
    return {"readings": told, "key": uuid.uuid4().hex}


class ByRequest:
    """Posts to a page: ``http://host:port/?token=...`` and the name of the log."""

    def __init__(self, address: str, log: str) -> None:
        parts = urlsplit(address)
        self.token = parse_qs(parts.query).get("token", [""])[0]
        self.address = f"{parts.scheme}://{parts.netloc}/api/logs/{log}/readings"

    def send(self, readings: Sequence[Sent]) -> None:
        """Post one message.

        Raises
        ------
        StoreError
            The page is away, or refuses it.
        """
        headers = {"Content-Type": "application/json"}
        if self.token:
            headers["Authorization"] = f"Bearer {self.token}"
        body = json.dumps(_message(readings)).encode()
        request = urllib.request.Request(self.address, body, headers)
        try:
            with urllib.request.urlopen(request, timeout=_PATIENCE):
                pass
        except urllib.error.HTTPError as error:
            told = error.read(2000).decode(errors="replace").strip()
            raise StoreError(what=f"the page refused it: {told}", path=self.address) from error
        except OSError as error:
            raise StoreError(what=f"the page cannot be reached: {error}", path=self.address) from (
                error
            )


class ByBroker:
    """Publishes to a broker, acknowledged by it."""

    def __init__(self, broker: Broker, log: str) -> None:
        self.broker = broker
        self.topic = TOPIC.format(log=log)

    def send(self, readings: Sequence[Sent]) -> None:
        """Publish one message.

        Raises
        ------
        StoreError
            The broker is away.
        """
        b = self.broker
        auth: mqtt.AuthParameter | None = None
        if b.user:
            auth = {"username": b.user, "password": b.password or ""}
        payload = json.dumps(_message(readings))
        try:
            mqtt.single(self.topic, payload, qos=1, hostname=b.host, port=b.port, auth=auth)
        except OSError as error:
            raise StoreError(what=f"the broker cannot be reached: {error}", path=b.host) from error


class IntoTable(AbstractContextManager["IntoTable"]):
    """Appends lines to a table; a column for each sensor of the first readings."""

    def __init__(self, path: Path) -> None:
        self._file = path.open("w", encoding="utf-8", newline="")
        self._writer = csv.writer(self._file)
        self._columns: list[str] = []

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._file.close()

    def __enter__(self) -> Self:
        return self

    def send(self, readings: Sequence[Sent]) -> None:
        """Write one line."""
        if not self._columns:
            self._columns = [r.sensor for r in readings]
            self._writer.writerow(["time", *(f"{r.sensor} [{r.unit}]" for r in readings)])
        at = readings[0].at
        assert at is not None
        values = {r.sensor: r.value for r in readings}
        when = datetime.fromtimestamp(at).astimezone().isoformat(sep=" ", timespec="milliseconds")
        self._writer.writerow([when, *(values.get(c, "") for c in self._columns)])
        self._file.flush()


def publisher(where: str) -> Publisher:
    """The way that an address names.

    Parameters
    ----------
    where : str
        ``http://host:port/LOG`` of a page, with ``?token=`` where it asks for one;
        ``mqtt://host:port/LOG`` of a broker; or a file ending in ``.csv``.

    Raises
    ------
    JobError
        None of them.
    """
    parts = urlsplit(where)
    log = parts.path.strip("/")
    if parts.scheme in ("http", "https") and log and "/" not in log:
        return ByRequest(where, log)
    if parts.scheme == "mqtt" and log and "/" not in log:
        return ByBroker(Broker.written(f"mqtt://{parts.netloc}"), log)
    if not parts.scheme and where.endswith(".csv"):
        try:
            return IntoTable(Path(where))
        except OSError as error:
            raise StoreError(what=f"cannot be written: {error.strerror}", path=where) from error
    raise JobError(
        what="nowhere to publish to", read=where[:80],
        allowed="http://HOST:PORT/LOG, mqtt://HOST:PORT/LOG, or a file ending in .csv",
    )  # fmt: skip


def round_of(found: Round, begun_at: float) -> list[Sent]:
    """A round of readings at a simulated machine, as its instruments and the scale send it.

    Parameters
    ----------
    begun_at : float
        When the session began. [s since 1970]
    """
    at = begun_at + found.at
    sent = []
    for one in found.written:
        number, _space, unit = one.text.partition(" ")
        sent.append(Sent(sensor=one.channel, value=float(number), unit=unit, at=at))
    left = CYLINDER - found.weighed
    return [*sent, Sent(sensor="scale", value=round(left, 4), unit="kg", at=at)]
