"""Starting the pages: a free port, this machine only, no usage statistics."""

import contextlib
import os
import socket
import sys
import threading
from pathlib import Path
from typing import Final

from lapdelta.errors import LapdeltaError

ADDRESS: Final = "127.0.0.1"
#: Name of the environment variable that tells the pages which archive they show.
ARCHIVE_VARIABLE: Final = "LAPDELTA_ARCHIVE"
#: Tried first, so that a bookmark usually works.
_USUAL_PORTS: Final = range(8501, 8521)
MAX_UPLOAD_MB: Final = 100
#: Set while nothing is being imported ahead of the first page.
_warm: Final = threading.Event()
_warm.set()


class PortTaken(LapdeltaError):  # noqa: N818 - a fact about the machine
    """The port asked for is in use."""


def free_port(wanted: int | None = None) -> int:
    """The port asked for, or a free one.

    Raises:
        PortTaken: ``wanted`` is in use or not allowed.
    """
    if wanted is not None:
        if not _is_free(wanted):
            what = f"Port {wanted} is in use or not allowed."
            raise PortTaken(what, "Name another with --port, or leave it out.", "--port")
        return wanted
    for port in _USUAL_PORTS:
        if _is_free(port):
            return port
    with socket.socket() as probe:
        probe.bind((ADDRESS, 0))
        return int(probe.getsockname()[1])


def app_path() -> Path:
    """The app's first file, in a checkout or installed."""
    return Path(__file__).resolve().with_name("app.py")


def run(archive_folder: Path | str | None, port: int | None = None, open_browser: bool = True) -> None:
    """Serve the pages until stopped. What Streamlit prints goes to stderr; stdout stays ours."""
    from streamlit.web import cli

    if archive_folder is not None:
        os.environ[ARCHIVE_VARIABLE] = str(archive_folder)
    arguments = _arguments(free_port(port), open_browser)
    sys.argv = ["streamlit", *arguments]
    _warm.clear()
    threading.Thread(target=_warm_up, daemon=True).start()
    with contextlib.redirect_stdout(sys.stderr):
        cli.main(arguments, prog_name="streamlit", standalone_mode=False)


def _warm_up() -> None:
    """Import what the first answer needs while the browser is still opening."""
    try:
        import lapdelta.asking
        import lapdelta.pictures.change_dots
        import lapdelta.sheet.sentences  # noqa: F401 - for their import alone
    finally:
        _warm.set()


def wait_until_warm() -> None:
    """Two threads that import the same modules at once can see half of one; the pages wait for the first."""
    _warm.wait()


def _arguments(port: int, open_browser: bool) -> list[str]:
    """Every option that keeps the pages on this machine, whatever a user's own settings say."""
    return [
        "run",
        str(app_path()),
        f"--server.address={ADDRESS}",
        f"--server.port={port}",
        f"--server.headless={'false' if open_browser else 'true'}",
        "--server.showEmailPrompt=false",
        "--server.fileWatcherType=none",
        f"--server.maxUploadSize={MAX_UPLOAD_MB}",
        "--browser.gatherUsageStats=false",
        f"--browser.serverAddress={ADDRESS}",
        "--client.toolbarMode=minimal",
        "--client.showErrorDetails=none",
    ]


def _is_free(port: int) -> bool:
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((ADDRESS, port))
        except OSError:
            return False
    return True
