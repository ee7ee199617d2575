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


#: Short name -> (what draws it, its address), in the order in which they are shown.
PAGES: Final[dict[str, tuple[Callable[[], None], str]]] = {
    "bring": (_lazily("bring_in"), "bring-in"),
    "fitted": (_lazily("fitted"), "fitted"),
    "help": (_lazily("did_it_help"), "did-it-help"),
    "why": (_lazily("why"), "why"),
    "next": (_lazily("what_next"), "what-next"),
    "gearing": (_lazily("gearing"), "gearing"),
    "season": (_lazily("season"), "season"),
    "driver": (_lazily("show_driver"), "driver"),
}
