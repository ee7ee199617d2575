"""The pages in a real browser: the way a new user goes, at every size, in light and dark, and closed to others."""

import json
import shutil
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import browser_kit as kit
import findings_by_hand
import pytest
from playwright.sync_api import Browser, Page, sync_playwright
from sample_archive import make_archive

from lapdelta import Finding
from lapdelta.pictures.export import quickly
from lapdelta.sheet.page import page_html
from lapdelta.sheet.sentences import headline
from lapdelta.words import phrase
from sample_sessions import FOLDER

OLD, NEW = ("P1", "P4", "P6", "P7"), ("P2", "P3", "P5", "P8")
EVENT = "2025-05-18"
TITLES = {name: phrase(f"ui.page.{name}") for name in ("bring", "fitted", "help", "why", "next")}
TITLES |= {name: phrase(f"ui.page.{name}") for name in ("gearing", "season", "driver")}
CHART = "[data-testid=stVegaLiteChart] :is(svg, canvas)"


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        found = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox", "--disable-dev-shm-usage"]
        )
        yield found
        found.close()


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The pages of an archive of two days, its question written down before the first look."""
    archive = make_archive(tmp_path_factory.mktemp("full") / "archive")
    archive.put_question(
        EVENT, kart="07", before=list(OLD), after=list(NEW), measure="lap_time", margin=0.1, expected="faster"
    )
    with kit.served(archive.folder) as address:
        yield address


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    folder = tmp_path_factory.mktemp("empty") / "archive"
    with kit.served(folder) as address:
        yield address, folder


@pytest.mark.parametrize(
    ("size", "scheme"), [((390, 844), "dark"), ((1280, 900), "light"), ((1280, 900), "dark")], ids=str
)
def test_every_full_page(chromium: Browser, full: str, size: tuple[int, int], scheme: str) -> None:
    page, outside = kit.open_page(chromium, full, size, scheme)
    page.wait_for_selector(CHART, timeout=kit.PATIENCE_MS)
    for name, title in TITLES.items():
        kit.go(page, title)
        kit.check(page, f"full-{name}")
        if size[0] > 390:
            kit.check_access(page, f"{name} {scheme}")
    page.close()
    assert outside == []


def test_every_full_page_on_a_phone_by_touch(chromium: Browser, full: str) -> None:
    page, outside = kit.open_page(chromium, full, (390, 844))
    for name, title in TITLES.items():
        page.set_viewport_size({"width": 390, "height": 844})
        kit.go(page, title)
        kit.check(page, f"full-{name}")
        kit.check_access(page, f"{name} phone")
        assert kit.small_targets(page) == [], name
        page.set_viewport_size({"width": 320, "height": 700})
        page.wait_for_timeout(300)
        kit.check(page, f"full-{name}")
    page.close()
    assert outside == []


@pytest.mark.parametrize(("size", "scheme"), [((390, 844), "light"), ((1280, 900), "dark")], ids=str)
def test_every_empty_page(chromium: Browser, tmp_path: Path, size: tuple[int, int], scheme: str) -> None:
    with kit.served(tmp_path / "archive") as address:
        page, outside = kit.open_page(chromium, address, size, scheme)
        for name, title in TITLES.items():
            kit.go(page, title)
            kit.check(page, f"empty-{name}")
            if size[0] > 390:
                kit.check_access(page, f"{name} empty")
        page.close()
    assert outside == []


def test_the_whole_way_as_a_new_user(chromium: Browser, empty: tuple[str, Path]) -> None:
    address, folder = empty
    page, outside = kit.open_page(chromium, address)
    page.get_by_role("link", name=phrase("ui.help.empty.go")).click()
    page.wait_for_selector("h1:has-text('Bring in timing')", timeout=kit.PATIENCE_MS)
    page.locator("input[type=file]").first.set_input_files(FOLDER / EVENT / "practice.csv")
    page.get_by_label("Event", exact=True).fill(EVENT, timeout=kit.PATIENCE_MS)
    page.keyboard.press("Enter")
    page.wait_for_selector(f"text=Will be kept under: {EVENT}", timeout=kit.PATIENCE_MS)
    page.get_by_role("button", name="Keep this file").click(timeout=kit.PATIENCE_MS)
    page.wait_for_selector("text=laps kept", timeout=kit.PATIENCE_MS)

    kit.go(page, "What was fitted")
    choose(page, "Our kart", "07")
    page.get_by_role("button", name="Remember 07 as our kart").click()
    kit.settle(page)
    for number in range(1, 9):
        session = f"P{number}"
        write_down(page, session, 84 if session in OLD else 80)
    page.get_by_role("button", name="Did it help? axle 84").click()
    page.wait_for_selector("h1:has-text('Did it help?')", timeout=kit.PATIENCE_MS)
    page.get_by_role("button", name="Show the answer").click(timeout=kit.PATIENCE_MS)
    page.wait_for_selector(CHART, timeout=kit.PATIENCE_MS)
    kit.settle(page)

    told = the_same_question(folder)
    assert page.locator("h2").first.inner_text() == told.verdict.capitalize()
    assert headline(told) in page.locator("[data-testid=stMain]").inner_text()
    assert page.get_by_text("Question 1 of the season 2025").count() == 1

    kit.go(page, "Why we think so")
    page.wait_for_selector(CHART, timeout=kit.PATIENCE_MS)
    for title in ("Checks", "If we had chosen otherwise", "What differs on the setup sheet"):
        assert page.get_by_role("heading", name=title).count() == 1
    kit.go(page, "Show the driver")
    page.wait_for_selector("img[alt*='than it would have been']", timeout=kit.PATIENCE_MS)
    with page.expect_download() as download:
        page.get_by_role("button", name="Save the page (HTML)").click()
    saved = Path(download.value.path()).read_text(encoding="utf-8")
    assert "Kart 07: did it help?" in saved
    assert "Mika" not in saved
    # A reload, and the question is still the one that was asked.
    page.reload()
    page.wait_for_selector("img[alt*='than it would have been']", timeout=kit.PATIENCE_MS)
    page.close()
    assert outside == []


def choose(page: Page, label: str, option: str) -> None:
    page.get_by_role("combobox", name=label).click()
    page.get_by_role("option", name=option, exact=True).click()
    kit.settle(page)


def write_down(page: Page, session: str, axle: int) -> None:
    """Pick the session, type the teeth, write it down: as somebody does who uses the keyboard."""
    page.get_by_role("button", name=f"Write down {session}").wait_for(timeout=kit.PATIENCE_MS)
    if session == "P1":
        page.get_by_label("Engine sprocket teeth").fill("11")
    page.get_by_label("Axle sprocket teeth").fill(str(axle))
    page.get_by_role("button", name=f"Write down {session}").click()
    page.wait_for_selector(f"text={session} of {EVENT}", timeout=kit.PATIENCE_MS)
    kit.settle(page)


def the_same_question(folder: Path) -> Finding:
    """What ``lapdelta compare --json`` says to it."""
    words = ["compare", "--json", "--archive", str(folder), "--event", EVENT, "--kart", "07"]
    words += ["--before", *OLD, "--after", *NEW, "--margin", "0.1"]
    done = subprocess.run(
        [sys.executable, "-m", "lapdelta", *words], cwd=kit.ROOT, capture_output=True, text=True, check=True
    )
    return Finding.from_json(json.dumps(json.loads(done.stdout)))


def test_the_answer_is_reached_by_keyboard_alone(chromium: Browser, full: str) -> None:
    page, _ = kit.open_page(chromium, f"{full}/why")
    reached: list[str] = []
    for _ in range(12):
        page.keyboard.press("Tab")
        reached.append(page.evaluate("(document.activeElement.textContent || '').trim()"))
    assert set(TITLES.values()) <= set(reached)
    page.locator(".st-key-pages_row").get_by_role("link", name="Season").focus()
    page.keyboard.press("Enter")
    page.wait_for_selector("h1:has-text('Season')", timeout=kit.PATIENCE_MS)
    page.close()


def test_the_other_language_is_one_click_away_and_stays(chromium: Browser, empty: tuple[str, Path]) -> None:
    page, _ = kit.open_page(chromium, f"{empty[0]}/gearing")
    page.locator("label", has_text="Deutsch").click()
    page.wait_for_selector("h1:has-text('Übersetzung')", timeout=kit.PATIENCE_MS)
    page.reload()
    page.wait_for_selector("h1:has-text('Übersetzung')", timeout=kit.PATIENCE_MS)
    kit.settle(page)
    page.locator("label", has_text="English").click()
    page.wait_for_selector("h1:has-text('Gearing')", timeout=kit.PATIENCE_MS)
    page.close()


def test_a_file_of_50_mb_shows_progress(chromium: Browser, full: str, tmp_path: Path) -> None:
    row = "07,P{0},{1},{2}.{3:03d}\n"
    rows = (row.format(n // 20 + 1, n % 20 + 1, 60 + n % 3, n % 1000) for n in range(3_200_000))
    file = tmp_path / "season.csv"
    file.write_text("Kart,Session,Lap,Lap time\n" + "".join(rows), encoding="utf-8")
    assert file.stat().st_size > 50_000_000
    page, _ = kit.open_page(chromium, f"{full}/bring-in")
    page.locator("input[type=file]").first.set_input_files(file)
    page.locator("[data-testid=stSpinner], [data-testid=stProgress]").first.wait_for(timeout=kit.PATIENCE_MS)
    assert page.get_by_text("Reading season.csv").count() >= 1
    page.close()


def test_another_website_cannot_post_here(full: str) -> None:
    # Upload needs the cookie's token in a header, which a page of another origin can neither read nor send.
    request = urllib.request.Request(
        f"{full}/_stcore/upload_file/someone/file", data=b"x", method="PUT",
        headers={"Origin": "https://other.example", "Content-Type": "text/plain"},
    )  # fmt: skip
    with pytest.raises(urllib.error.HTTPError) as refused:
        urllib.request.urlopen(request, timeout=10)
    refused.value.close()
    assert refused.value.code in (400, 403, 404, 405)
    assert refused.value.headers.get("Access-Control-Allow-Origin") in (None, full)


def test_the_shared_page_on_a_narrow_phone_and_on_one_a4_sheet(chromium: Browser, tmp_path: Path) -> None:
    for name, finding in findings_by_hand.ALL.items():
        file = tmp_path / "page.html"
        with quickly():
            file.write_text(page_html(finding), encoding="utf-8")
        page = chromium.new_page(viewport={"width": 320, "height": 700})
        page.goto(file.as_uri())
        assert page.evaluate("document.documentElement.scrollWidth") <= 320, name
        if kit.PICTURES:
            page.screenshot(path=str(Path(kit.PICTURES) / f"shared-{name}.png"), full_page=True)
        pdf = page.pdf(prefer_css_page_size=True)
        page.close()
        assert pdf.count(b"/Type /Page\n") == 1 or pdf.count(b"/Type /Page ") == 1, name
