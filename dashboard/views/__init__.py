"""One page a file; each has ``show()`` and answers one question."""

from collections.abc import Callable
from importlib import import_module
from typing import Final


def _lazily(module: str) -> Callable[[], None]:
    """The page's ``show``, imported when the page is opened: the first page need not wait for the others."""

    def show() -> None:
        import_module(f"dashboard.views.{module}").show()

    show.__name__ = module
    return show


#: Short name -> what draws it, in the order in which they are shown.
PAGES: Final[dict[str, Callable[[], None]]] = {
    "bring": _lazily("bring_in"),
    "fitted": _lazily("fitted"),
    "help": _lazily("did_it_help"),
    "why": _lazily("why"),
    "next": _lazily("what_next"),
    "gearing": _lazily("gearing"),
    "season": _lazily("season"),
    "driver": _lazily("show_driver"),
}
