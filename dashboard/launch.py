"""Starting the pages: a free port, this machine only, no usage statistics."""

import contextlib
import os
import socket
import sys
import threading
from importlib import import_module
from pathlib import Path
from typing import Final

from lapdelta.errors import LapdeltaError

ADDRESS: Final = "127.0.0.1"
#: Name of the environment variable that tells the pages which archive they show.
ARCHIVE_VARIABLE: Final = "LAPDELTA_ARCHIVE"
#: Tried first, so that a bookmark usually works.
_USUAL_PORTS: Final = range(8501, 8521)
MAX_UPLOAD_MB: Final = 100
#: Steps of what is done ahead of the first page, in order.
_STEPS: Final = ("pages", "answer", "pictures")
_FOR_THE_ANSWER: Final = (
    "lapdelta.asking.archive_question", "lapdelta.setups", "lapdelta.sheet.advice", "lapdelta.sheet.sentences",
)  # fmt: skip
_FOR_ITS_PICTURES: Final = ("lapdelta.pictures.change_dots", "lapdelta.pictures.single_laps")
#: Set once the step is done, or while nothing is done ahead.
_done: Final = {step: threading.Event() for step in _STEPS}
_serving: Final = threading.Event()
for _event in _done.values():
    _event.set()


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
    """Serve the pages until stopped. The terminal stays ours: only warnings and errors are added, on stderr."""
    if archive_folder is not None:
        os.environ[ARCHIVE_VARIABLE] = str(archive_folder)
    arguments = _arguments(free_port(port), open_browser)
    sys.argv = ["streamlit", *arguments]
    _serving.set()
    for event in _done.values():
        event.clear()
    threading.Thread(target=_get_ready, args=(os.environ.get(ARCHIVE_VARIABLE),), daemon=True).start()
    from streamlit.web import cli

    # It prints addresses and greetings; what is wrong it logs, which goes to stderr.
    with Path(os.devnull).open("w") as nowhere, contextlib.redirect_stdout(nowhere):
        cli.main(arguments, prog_name="streamlit", standalone_mode=False)


def _get_ready(folder: str | None) -> None:
    """Import and compute what the first answer needs while the browser is still opening."""
    try:
        _import_all(_FOR_THE_ANSWER)
        _done["pages"].set()
        _answer_ahead(folder)
        _done["answer"].set()
        _import_all(_FOR_ITS_PICTURES)
    finally:
        for event in _done.values():
            event.set()


def _import_all(modules: tuple[str, ...]) -> None:
    """Import them for the pages that come."""
    for module in modules:
        import_module(module)


def _answer_ahead(folder: str | None) -> None:
    """The answer that the first page will show, if there is one."""
    from dashboard.kept import answer_of, archive_of
    from dashboard.question import last_asked

    # An archive or question that is wrong is said on the page, which asks again.
    with contextlib.suppress(LapdeltaError):
        archive = archive_of(folder)
        asked = last_asked(archive)
        if asked is not None:
            answer_of(archive, asked)


def is_serving() -> bool:
    """Whether the pages are served by ``run``, not drawn by a test."""
    return _serving.is_set()


def wait_until_ready(step: str) -> None:
    """Wait for what is done ahead: two threads that import the same modules at once can see half of one."""
    _done[step].wait()


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
        "--logger.hideWelcomeMessage=true",
        "--logger.level=warning",
    ]


def _is_free(port: int) -> bool:
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((ADDRESS, port))
        except OSError:
            return False
    return True
