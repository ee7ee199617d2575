"""The pictures in the README, taken of the real pages: ``python tests/browser/readme_screens.py``."""

import shutil
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import browser_kit as kit
from playwright.sync_api import Browser, sync_playwright
from sample_archive import make_archive

from lapdelta.asking.archive_question import ask
from lapdelta.sheet.page import page_html

SCREENS = Path(__file__).resolve().parents[2] / "dashboard" / "screens"
EVENT, OLD, NEW = "2025-05-18", ["P1", "P4", "P6", "P7"], ["P2", "P3", "P5", "P8"]
CHART = "[data-testid=stVegaLiteChart] :is(svg, canvas)"


def take(browser: Browser, address: str, title: str, name: str, size: tuple[int, int]) -> None:
    """One page as it first appears at one size."""
    page, _ = kit.open_page(browser, address, size)
    kit.go(page, title)
    page.wait_for_selector(CHART, timeout=kit.PATIENCE_MS)
    page.wait_for_timeout(500)
    page.screenshot(path=str(SCREENS / f"{name}.png"))
    page.close()


def main() -> None:
    """All pictures of the README."""
    SCREENS.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        archive = make_archive(Path(folder) / "archive")
        archive.put_question(
            EVENT, kart="07", before=OLD, after=NEW, measure="lap_time", margin=0.1, expected="faster"
        )
        finding = ask(archive, event=EVENT, before=OLD, after=NEW)
        (Path(folder) / "driver.html").write_text(page_html(finding), encoding="utf-8")
        with kit.served(archive.folder) as address, sync_playwright() as playwright:
            browser = playwright.chromium.launch(
                executable_path=shutil.which("chromium"), args=["--no-sandbox", "--disable-dev-shm-usage"]
            )
            take(browser, address, "Did it help?", "answer", (1280, 900))
            driver = browser.new_page(viewport={"width": 390, "height": 844})
            driver.goto((Path(folder) / "driver.html").as_uri())
            driver.screenshot(path=str(SCREENS / "driver.png"))
            take(browser, address, "Why we think so", "why", (390, 844))
            browser.close()


if __name__ == "__main__":
    main()
