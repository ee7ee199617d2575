"""Whole objects in an object store: read, written, or written only where there is none yet.

By the client that deltalake has inside too. It is installed with ``lapdelta[remote]``; who one is there comes
from the environment (``AWS_...``), as for the tables.
"""

import importlib
import importlib.util
from collections.abc import Generator
from contextlib import contextmanager
from typing import Any

from lapdelta.archive.durable import store_failed
from lapdelta.errors import ArchiveError

_CLIENT = "obstore"


def has_client() -> bool:
    """Whether the client library is installed."""
    return importlib.util.find_spec(_CLIENT) is not None


class Objects:
    """The objects under one address, by their names beneath it."""

    def __init__(self, url: str) -> None:
        """Nothing is asked of the store yet.

        Raises:
            ArchiveError: the client is not installed, or cannot make sense of the address.
        """
        self.url = url
        try:
            self._client: Any = importlib.import_module(_CLIENT)
            stores: Any = importlib.import_module(f"{_CLIENT}.store")
        except ImportError as error:
            raise ArchiveError(
                "Without its client library an archive in an object store can only be looked at.",
                "Install it: pip install 'lapdelta[remote]'",
                url,
            ) from error
        with self._plainly(""):
            self._store: Any = stores.from_url(url)

    def read(self, name: str) -> bytes:
        """The bytes of an object.

        Raises:
            FileNotFoundError: it is not there.
            ArchiveError: the store does not give it.
        """
        with self._plainly(name):
            return bytes(self._client.get(self._store, name).bytes())

    def size_of(self, name: str) -> int | None:
        """Bytes of an object; None if it is not there."""
        try:
            with self._plainly(name):
                return int(self._client.head(self._store, name)["size"])
        except FileNotFoundError:
            return None

    def write(self, name: str, data: bytes | memoryview) -> None:
        """Write an object, as a whole or not at all; one of that name is replaced."""
        with self._plainly(name):
            self._client.put(self._store, name, memoryview(data).cast("B"))

    def create(self, name: str, data: bytes | memoryview) -> bool:
        """Write an object if there is none of that name, in one step; whether it did."""
        try:
            with self._plainly(name):
                self._client.put(self._store, name, memoryview(data).cast("B"), mode="create")
        except FileExistsError:
            return False
        return True

    @contextmanager
    def _plainly(self, name: str) -> Generator[None]:
        """Say in plain words what the store did not do; what is (not) there already is the caller's matter."""
        known = self._client.exceptions
        where = f"{self.url}/{name}"
        try:
            yield
        except known.AlreadyExistsError as error:
            raise FileExistsError(where) from error
        except (known.PermissionDeniedError, known.UnauthenticatedError) as error:
            raise ArchiveError(
                "The object store does not let you do this.",
                "Give yourself the right to it there, or set the key of somebody who has it.",
                where,
            ) from error
        except (known.BaseError, OSError, NotImplementedError) as error:
            if isinstance(error, FileNotFoundError):
                raise
            raise store_failed(error, where) from error
