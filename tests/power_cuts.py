"""Power cuts made up: nothing more happens on the disk after so many steps; for tests of the archive."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from deltalake import DeltaTable

from lapdelta.archive import delta, durable, store


class Cut(BaseException):
    """The power goes."""


@contextmanager
def cut_after(steps: int) -> Iterator[list[int]]:
    """Let nothing more happen on the disk after so many times that something was put on it."""
    count = [0]
    real, settle = durable.sync, store.settle

    def sync(path: Path) -> None:
        count[0] += 1
        if count[0] > steps:
            raise Cut
        real(path)

    def settle_if_alive(place: store.Place) -> None:
        if count[0] <= steps:
            settle(place)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(durable, "sync", sync)
        patch.setattr(delta, "sync", sync)
        patch.setattr(store, "settle", settle_if_alive)
        yield count


def strays(folder: Path) -> list[str]:
    """Data files that no table's log names, and notes of unfinished changes.

    (Files merged into others stay for a day; the log names them as removed without a change of data.)
    """
    found = [path.name for path in folder.glob("pending*")]
    for log in folder.glob("*/_delta_log"):
        named = {Path(str(uri)).name for uri in DeltaTable(log.parent).file_uris()}
        for version in log.glob("*.json"):
            actions = [json.loads(line) for line in version.read_text().splitlines()]
            gone = [action["remove"] for action in actions if "remove" in action]
            named |= {Path(remove["path"]).name for remove in gone if not remove["dataChange"]}
        data = [path for path in log.parent.glob("**/*.parquet") if "_delta_log" not in path.parts]
        found += [path.name for path in data if path.name not in named]
    return found
