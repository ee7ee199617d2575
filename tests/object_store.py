"""A mock server of S3 on this machine, and a say in each request it gets; for tests of archives there."""

import itertools
import threading
import warnings
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

#: What a client is told when it is turned away: no use in trying again.
REFUSED = "403 Forbidden"

#: What a client is told that may try again.
TROUBLE = "503 Slow Down"


class Server:
    """The server, with what is to happen at requests that write.

    Attributes:
        address: of the server.
        before: called with the name of each object before it is written; a status turns the request away.
        after: called likewise when it is written; a status is answered in place of the server's own.
        heeds: whether the server heeds If-None-Match.
        written: names of all objects that came to be written, in order.
    """

    def __init__(self) -> None:
        self.address = ""
        self.quiet()

    def quiet(self) -> None:
        """Nothing out of the ordinary happens."""
        self.before: Callable[[str], str | None] = lambda name: None
        self.after: Callable[[str], str | None] = lambda name: None
        self.heeds = True
        self.written: list[str] = []

    def answer(self, serve: Callable[..., Iterable[bytes]], environ: Any, start: Any) -> Iterable[bytes]:
        """One request."""
        if environ["REQUEST_METHOD"] != "PUT":
            return serve(environ, start)
        name = environ["PATH_INFO"]
        if status := self.before(name):
            environ["wsgi.input"].read(int(environ["CONTENT_LENGTH"]))
            return _turned_away(start, status)
        if not self.heeds:
            environ.pop("HTTP_IF_NONE_MATCH", None)
        said: list[Any] = []
        body = list(serve(environ, lambda *told: said.append(told)))
        self.written.append(name)
        if status := self.after(name):
            return _turned_away(start, status)
        start(*said[0])
        return body


def _turned_away(start: Any, status: str) -> Iterable[bytes]:
    start(status, [("Content-Length", "0")])
    return []


@contextmanager
def running(patch: pytest.MonkeyPatch) -> Iterator[Server]:
    """The server with an empty bucket ``club``; the environment tells clients where it is."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from moto.moto_server.werkzeug_app import DomainDispatcherApplication
        from moto.server import ThreadedMotoServer
    server, serve = Server(), DomainDispatcherApplication.__call__
    patch.setattr(
        DomainDispatcherApplication,
        "__call__",
        lambda app, environ, start: server.answer(lambda *given: serve(app, *given), environ, start),
    )
    mock = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    mock.start()
    host, port = mock.get_host_and_port()
    server.address = f"http://{host}:{port}"
    known = {"ACCESS_KEY_ID": "x", "SECRET_ACCESS_KEY": "x", "REGION": "eu-west-1", "ALLOW_HTTP": "true"}
    for name, value in {**known, "ENDPOINT_URL": server.address}.items():
        patch.setenv(f"AWS_{name}", value)
    client(server).create_bucket(Bucket="club", CreateBucketConfiguration={"LocationConstraint": "eu-west-1"})
    try:
        yield server
    finally:
        mock.stop()


def client(server: Server) -> Any:
    """A plain client of S3."""
    import boto3

    return boto3.client("s3", endpoint_url=server.address, region_name="eu-west-1")


def upload(server: Server, folder: Path, name: str) -> None:
    """Copy a folder's files there."""
    for path in folder.rglob("*"):
        if path.is_file():
            client(server).upload_file(str(path), "club", f"{name}/{path.relative_to(folder).as_posix()}")


def at_write(number: int, do: Callable[[], object]) -> Callable[[str], str | None]:
    """Do something before the write of that number, once; from 0. Writes it makes itself are not counted."""
    count, busy = [0], threading.Lock()

    def before(name: str) -> None:
        if not busy.acquire(blocking=False):
            return
        try:
            if count[0] == number:
                do()
            count[0] += 1
        finally:
            busy.release()

    return before


def cut_at(number: int) -> Callable[[str], str | None]:
    """From the write of that number on all are turned away, as if the one who writes were gone."""
    count = itertools.count()
    return lambda name: REFUSED if next(count) >= number else None
