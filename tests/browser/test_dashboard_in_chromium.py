"""The pages in a real browser: nothing leaves this machine, nothing scrolls sideways, the way through works."""

import os
import shutil
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, sync_playwright
from sample_archive import make_archive

from dashboard.launch import free_port
from sample_sessions import FOLDER

ROOT = Path(__file__).resolve().parents[2]
READY = "[data-testid=stApp][data-test-script-state=notRunning]"
PATIENCE_MS = 30_000
SIZES = ((390, 844), (1280, 900))
#: Pictures of every page are left here when the variable is set, to be looked at.
PICTURES = os.environ.get("LAPDELTA_SCREENSHOTS")


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    archive = make_archive(tmp_path_factory.mktemp("browser") / "archive")
    port = free_port()
    code = f"from dashboard.launch import run; run({str(archive.folder)!r}, {port}, open_browser=False)"
    server = subprocess.Popen([sys.executable, "-c", code], cwd=ROOT, stderr=subprocess.DEVNULL)
    try:
        wait_for(f"http://127.0.0.1:{port}/_stcore/health")
        yield f"http://127.0.0.1:{port}"
    finally:
        server.terminate()
        server.wait(10)


def wait_for(url: str) -> None:
    for _ in range(200):
        try:
            with urllib.request.urlopen(url, timeout=1):
                return
        except OSError:
            time.sleep(0.1)
    raise TimeoutError(url)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox", "--disable-dev-shm-usage"]
        )
        yield chromium
        chromium.close()


def open_page(browser: Browser, url: str, size: tuple[int, int], scheme: Any) -> tuple[Page, list[str]]:
    page = browser.new_page(viewport={"width": size[0], "height": size[1]}, color_scheme=scheme)
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
    page.wait_for_timeout(300)
    page.wait_for_selector(READY, timeout=PATIENCE_MS)


def check(page: Page, name: str, size: tuple[int, int], scheme: str) -> None:
    width = page.evaluate("document.documentElement.scrollWidth")
    main = page.evaluate(
        "(e => e.scrollWidth - e.clientWidth)(document.querySelector('[data-testid=stMain]'))"
    )
    if PICTURES:
        page.screenshot(path=str(Path(PICTURES) / f"{name}-{size[0]}-{scheme}.png"))
    assert width <= size[0], name
    assert main <= 0, name
    assert page.locator("[data-testid=stAlertContentError]").count() == 0


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES, ids=lambda size: str(size[0]))
def test_the_way_from_question_to_driver(
    browser: Browser, address: str, size: tuple[int, int], scheme: str
) -> None:
    page, outside = open_page(browser, address, size, scheme)
    page.wait_for_selector("[data-testid=stVegaLiteChart] :is(svg, canvas)", timeout=PATIENCE_MS)
    assert page.locator("h3", has_text="Faster").count() == 1
    assert page.get_by_text("than it would have been").count() >= 1
    check(page, "did-it-help", size, scheme)
    main = page.locator("[data-testid=stMain]")
    main.get_by_role("link", name="Why we think so").click()
    page.wait_for_selector("h1:has-text('Why we think so')", timeout=PATIENCE_MS)
    settle(page)
    page.wait_for_selector("[data-testid=stVegaLiteChart] :is(svg, canvas)", timeout=PATIENCE_MS)
    assert page.get_by_text("If we had chosen otherwise").count() == 1
    check(page, "why", size, scheme)
    main.get_by_role("link", name="Show the driver").click()
    page.wait_for_selector("img[alt*='than it would have been']", timeout=PATIENCE_MS)
    settle(page)
    with page.expect_download() as download:
        page.get_by_role("button", name="Save the page (HTML)").click()
    saved = Path(download.value.path()).read_text(encoding="utf-8")
    assert "Kart 07: did it help?" in saved
    assert "Mika" not in saved
    check(page, "driver", size, scheme)
    page.close()
    assert outside == []


@pytest.mark.parametrize("size", SIZES, ids=lambda size: str(size[0]))
def test_bring_in_timing(browser: Browser, address: str, size: tuple[int, int]) -> None:
    page, outside = open_page(browser, f"{address}/bring-in", size, "light")
    files = [FOLDER / "2025-06-15" / f"{name}.csv" for name in ("P1", "P2")]
    page.locator("input[type=file]").set_input_files(files)
    page.wait_for_selector("text=Keep these 2 files", timeout=PATIENCE_MS)
    settle(page)
    check(page, "bring-in", size, "light")
    assert page.get_by_text("Will be kept under").count() == 2
    page.close()
    assert outside == []


def test_the_shared_page_on_a_narrow_phone(browser: Browser, tmp_path: Path) -> None:
    import findings_by_hand

    from lapdelta.sheet.page import page_html

    for name, finding in findings_by_hand.ALL.items():
        file = tmp_path / "page.html"
        file.write_text(page_html(finding), encoding="utf-8")
        page = browser.new_page(viewport={"width": 320, "height": 700})
        page.goto(file.as_uri())
        assert page.evaluate("document.documentElement.scrollWidth") <= 320, name
        if PICTURES:
            page.screenshot(path=str(Path(PICTURES) / f"shared-{name}.png"), full_page=True)
        page.close()


def test_the_shared_page_prints_on_one_a4_sheet(browser: Browser, tmp_path: Path) -> None:
    import findings_by_hand

    from lapdelta.sheet.page import page_html

    for name, finding in findings_by_hand.ALL.items():
        file = tmp_path / "page.html"
        file.write_text(page_html(finding), encoding="utf-8")
        page = browser.new_page()
        page.goto(file.as_uri())
        pdf = page.pdf(prefer_css_page_size=True)
        page.close()
        assert pdf.count(b"/Type /Page\n") == 1 or pdf.count(b"/Type /Page ") == 1, name
