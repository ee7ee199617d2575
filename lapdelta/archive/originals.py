"""The bytes of the files that came in, as they are stored: packed with Zstandard (RFC 8878).

Even quickly packed they are smaller than the best of gzip, in a third of its time.
"""

import hashlib
import importlib
from collections.abc import Iterable
from typing import Any

SUFFIX = ".zst"


def pack(blocks: Iterable[bytes]) -> tuple[memoryview, int]:
    """Bytes that come in blocks, as they are stored, and how many they were; never held unpacked as a whole."""
    pa = _arrow()
    size = 0
    packed = pa.BufferOutputStream()
    with pa.CompressedOutputStream(packed, "zstd") as stream:
        for block in blocks:
            stream.write(block)
            size += len(block)
    return memoryview(packed.getvalue()), size


def unpack(packed: bytes | memoryview, sha256: str) -> bytes:
    """The bytes as they were.

    Raises:
        OSError: they are damaged, cut short, or not those of that hash.
    """
    pa = _arrow()
    data: bytes = pa.CompressedInputStream(pa.BufferReader(packed), "zstd").read()
    if hashlib.sha256(data).hexdigest() != sha256:
        raise OSError("not the bytes that came in")
    return data


def is_whole(packed: bytes | memoryview, sha256: str) -> bool:
    """Whether stored bytes unpack to what their name says."""
    try:
        unpack(packed, sha256)
    except OSError:
        return False
    return True


def _arrow() -> Any:
    """pyarrow, loaded when it is needed: it takes longer than many a command takes altogether."""
    return importlib.import_module("pyarrow")
