"""A server of the pages, a browser, and what every test of them needs."""

import os
import subprocess
import sys
import time
import urllib.request
from collections.abc import Generator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from dashboard.launch import free_port

ROOT = Path(__file__).resolve().parents[1]
READY = "[data-testid=stApp][data-test-script-state=notRunning]"
PATIENCE_MS = 60_000
#: Pictures of every page are left here when the variable is set, to be looked at.
PICTURES = os.environ.get("LAPDELTA_SCREENSHOTS")
#: Rules of axe-core that carry these tags are those of WCAG 2.0 to 2.2, levels A and AA.
WCAG = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}}


@contextmanager
def served(folder: Path, before: str = "") -> Generator[str]:
    """The pages of an archive, until the end of the block; their address. ``before``: code to run first."""
    port = free_port()
    code = f"{before}\nfrom dashboard.launch import run; run({str(folder)!r}, {port}, open_browser=False)"
    server = subprocess.Popen([sys.executable, "-c", code], cwd=ROOT, stderr=subprocess.DEVNULL)
    try:
        wait_for(f"http://127.0.0.1:{port}/_stcore/health")
        assert server.poll() is None, "another program answers at the port"
        yield f"http://127.0.0.1:{port}"
    finally:
        stop(server)


def stop(server: "subprocess.Popen[bytes]") -> None:
    """Ask it to stop; one that is busy with a large file is ended."""
    server.terminate()
    try:
        server.wait(10)
    except subprocess.TimeoutExpired:
        server.kill()
        server.wait()


def wait_for(url: str) -> None:
    for _ in range(600):
        try:
            with urllib.request.urlopen(url, timeout=1):
                return
        except OSError:
            time.sleep(0.1)
    raise TimeoutError(url)


def open_page(
    browser: Browser, url: str, size: tuple[int, int] = (1280, 900), scheme: Any = "light"
) -> tuple[Page, list[str]]:
    """A page, and the list of requests that leave this machine (to stay empty)."""
    page = browser.new_page(
        viewport={"width": size[0], "height": size[1]}, color_scheme=scheme, locale="en-GB"
    )
    outside: list[str] = []

    def note(request: Any) -> None:
        if not request.url.startswith(("http://127.0.0.1:", "ws://127.0.0.1:", "data:", "blob:")):
            outside.append(request.url)

    page.on("request", note)
    page.goto(url)
    settle(page)
    return page, outside


def settle(page: Page) -> None:
    page.wait_for_selector(READY, timeout=PATIENCE_MS)
    page.wait_for_selector("h1", timeout=PATIENCE_MS)
    page.wait_for_timeout(100)  # a click takes a moment to reach the server
    page.wait_for_selector(READY, timeout=PATIENCE_MS)


def go(page: Page, title: str) -> None:
    """Another page by the row of links."""
    page.locator(".st-key-pages_row").get_by_role("link", name=title, exact=True).click()
    # Once the new title is there its page is being drawn, and it has been when the state says so.
    page.wait_for_selector(f"h1:has-text('{title}')", timeout=PATIENCE_MS)
    page.wait_for_selector(READY, timeout=PATIENCE_MS)


def check(page: Page, name: str, size: tuple[int, int]) -> None:
    """No sideways scroll at that size, no card of a defect; leaves a picture of the whole page."""
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.evaluate("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
    main = "document.querySelector('[data-testid=stMain]')"
    if PICTURES:
        scheme = page.evaluate("matchMedia('(prefers-color-scheme: dark)').matches ? 'dark' : 'light'")
        height = max(size[1], min(6000, page.evaluate(f"{main}.scrollHeight")))
        page.set_viewport_size({"width": size[0], "height": height})
        page.wait_for_timeout(300)
        page.screenshot(path=str(Path(PICTURES) / f"{name}-{size[0]}-{scheme}.png"))
        page.set_viewport_size({"width": size[0], "height": size[1]})
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0], name
    assert page.evaluate(f"{main}.scrollWidth - {main}.clientWidth") <= 0, name
    assert page.get_by_text("Save the report").count() == 0, name


def check_access(page: Page, name: str) -> None:
    """axe-core finds nothing against WCAG A or AA in what is ours, contrast included."""
    found = Axe().run(page, options=WCAG).response["violations"]
    listed = [
        f"{rule['id']}: {node['target']} {node.get('failureSummary', '')}"
        for rule in found
        for node in rule["nodes"]
    ]
    assert not listed, f"{name}: " + "\n".join(listed)


def small_targets(page: Page) -> list[str]:
    """What can be touched and is smaller than 44 px in its smaller measure (WCAG 2.2, 2.5.5; from memory)."""
    return page.evaluate(
        """() => [...document.querySelectorAll('[data-testid=stMain] :is(button, a[href], summary, input)')]
        .filter(e => e.offsetParent && !e.closest('[data-testid=stElementToolbar], .vega-embed, canvas'))
        .filter(e => e.type !== 'file' && e.type !== 'radio')
        .map(e => [e, e.closest('label, [data-baseweb=select], [data-baseweb=input]') || e])
        .map(([e, box]) => [e, box.getBoundingClientRect()])
        .filter(([e, r]) => r.width > 1 && (r.height < 43.5 || r.width < 43.5))
        .map(([e, r]) => `${e.tagName} ${e.getAttribute('aria-label') || e.textContent} `
            + `${Math.round(r.width)}x${Math.round(r.height)} ${e.closest('[data-testid]')?.dataset.testid}`)"""
    )
