"""The pages in a real browser: the way a new user goes, at every size, in light and dark, and closed to others."""

import http.client
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
from playwright.sync_api import Browser, Page, expect, sync_playwright
from sample_archive import make_archive

from dashboard.addresses import address, other_addresses
from dashboard.views import PAGES
from lapdelta import Finding
from lapdelta.asking.archive_question import ask
from lapdelta.pictures.export import quickly
from lapdelta.sheet.page import page_html
from lapdelta.sheet.sentences import headline
from lapdelta.words import phrase
from sample_sessions import FOLDER

OLD, NEW = ("P1", "P4", "P6", "P7"), ("P2", "P3", "P5", "P8")
EVENT = "2025-05-18"
TITLES = {name: phrase(f"ui.page.{name}") for name in ("bring", "fitted", "help", "why", "next")}
TITLES |= {name: phrase(f"ui.page.{name}") for name in ("gearing", "season", "driver")}
LAPTOP, PHONE, NARROW = (1280, 900), (390, 844), (320, 700)
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
    """The pages of an archive of two days, its question written down before the first look, and asked."""
    archive = make_archive(tmp_path_factory.mktemp("full") / "archive")
    archive.put_question(
        EVENT, kart="07", before=list(OLD), after=list(NEW), measure="lap_time", margin=0.1, expected="faster"
    )
    ask(archive, event=EVENT, kart="07", before=OLD, after=NEW)
    with kit.served(archive.folder) as address:
        yield address


#: Put before the start of the pages without an archive: a chain of 77 links makes them fail.
FAILS = """
import lapdelta.gearing as gearing
slide = gearing.engine_slide
def fails(links, *rest):
    if links == 77:
        raise RuntimeError("made to fail")
    return slide(links, *rest)
gearing.engine_slide = fails
"""


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    folder = tmp_path_factory.mktemp("empty") / "archive"
    with kit.served(folder, FAILS) as address:
        yield address, folder


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_full_page_at_every_size(chromium: Browser, full: str, scheme: str) -> None:
    page, outside = kit.open_page(chromium, full, LAPTOP, scheme)
    page.wait_for_selector(CHART, timeout=kit.PATIENCE_MS)
    for name, title in TITLES.items():
        kit.go(page, title)
        kit.check(page, f"full-{name}", LAPTOP)
        kit.check_access(page, f"{name} {scheme}")
        kit.check(page, f"full-{name}", PHONE)
        if scheme == "light":
            kit.check_access(page, f"{name} phone")
            assert kit.small_targets(page) == [], name
        kit.check(page, f"full-{name}", NARROW)
        page.set_viewport_size({"width": LAPTOP[0], "height": LAPTOP[1]})
    page.close()
    assert outside == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_empty_page_at_every_size(chromium: Browser, empty: tuple[str, Path], scheme: str) -> None:
    page, outside = kit.open_page(chromium, empty[0], LAPTOP, scheme)
    for name, title in TITLES.items():
        kit.go(page, title)
        kit.check(page, f"empty-{name}", LAPTOP)
        kit.check_access(page, f"{name} empty {scheme}")
        kit.check(page, f"empty-{name}", PHONE)
        kit.check(page, f"empty-{name}", NARROW)
        page.set_viewport_size({"width": LAPTOP[0], "height": LAPTOP[1]})
    page.close()
    assert outside == []


def test_a_defect_is_said_nothing_typed_is_lost_and_its_state_can_be_saved(
    chromium: Browser, empty: tuple[str, Path]
) -> None:
    page, outside = kit.open_page(chromium, f"{empty[0]}/gearing")
    page.get_by_label("Chain pitch, mm").fill("7.775")
    page.get_by_label("Chain, links").fill("77")
    page.keyboard.press("Enter")
    page.get_by_text(phrase("ui.defect")).wait_for(timeout=kit.PATIENCE_MS)
    assert page.get_by_label("Chain, links").input_value() == "77"
    with page.expect_download() as download:
        page.get_by_role("button", name=phrase("ui.defect.save")).click()
    saved = Path(download.value.path()).read_text(encoding="utf-8")
    assert "RuntimeError: made to fail" in saved
    assert "gear_links: 77" in saved
    # Another number, and the page goes on.
    page.get_by_label("Chain, links").fill("106")
    page.keyboard.press("Enter")
    page.get_by_text("mm between the centres").wait_for(timeout=kit.PATIENCE_MS)
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

    told = the_same_question(folder)
    assert page.locator("h2").first.inner_text() == told.verdict.capitalize()
    assert headline(told) in page.locator("[data-testid=stMain]").inner_text()
    assert page.get_by_text("Question 1 of the season 2025").count() == 1

    kit.go(page, "Why we think so")
    page.wait_for_selector(CHART, timeout=kit.PATIENCE_MS)
    for title in ("Checks", "If we had chosen otherwise", "What differs on the setup sheet"):
        assert page.get_by_role("heading", name=title).count() == 1
    asked = page.get_by_role("row", name="as asked").inner_text()
    assert f"{told.estimate:.2f} ({told.low:.2f} to {told.high:.2f})" in asked
    assert page.get_by_text("Question 1 of the season 2025").count() == 1
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
    # While the page is drawn anew the form before may stand beside it for a moment.
    write = page.get_by_role("button", name=f"Write down {session}")
    expect(write).to_have_count(1, timeout=kit.PATIENCE_MS)
    kit.settle(page)
    if session == "P1":
        page.get_by_label("Engine sprocket teeth").fill("11")
    page.get_by_label("Axle sprocket teeth").fill(str(axle))
    write.click()
    page.wait_for_selector(f"text={session} of {EVENT}", timeout=kit.PATIENCE_MS)


def the_same_question(folder: Path) -> Finding:
    """What ``lapdelta compare --json`` says to it."""
    words = ["compare", "--json", "--archive", str(folder), "--event", EVENT, "--kart", "07"]
    words += ["--before", *OLD, "--after", *NEW, "--margin", "0.1"]
    done = subprocess.run(
        [sys.executable, "-m", "lapdelta", *words], cwd=kit.ROOT, capture_output=True, text=True, check=True
    )
    return Finding.from_json(json.dumps(json.loads(done.stdout)))


def test_the_answer_is_reached_by_keyboard_alone(chromium: Browser, full: str) -> None:
    page, _ = kit.open_page(chromium, full)
    page.wait_for_selector(CHART, timeout=kit.PATIENCE_MS)
    reached: list[str] = []
    for _ in range(60):
        page.keyboard.press("Tab")
        reached.append(page.evaluate("(document.activeElement.textContent || '').trim()"))
        if reached[-1] == "Lap time":
            break
    assert set(TITLES.values()) <= set(reached)
    assert {"Save this picture", "Lap time"} <= {text.split("expand")[0] for text in reached}
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    page.locator("strong", has_text="early laps").wait_for(timeout=kit.PATIENCE_MS)
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


def test_every_page_is_found_under_its_name(chromium: Browser, full: str) -> None:
    page = chromium.new_page(locale="en-GB")
    typed = {address(name): name for name in PAGES} | other_addresses()
    for written, name in typed.items():
        page.goto(f"{full}/{written}")
        page.wait_for_selector(f"h1:has-text('{TITLES[name]}')", timeout=kit.PATIENCE_MS)
        assert page.get_by_role("dialog").count() == 0, written  # the server's own "not found"
        kit.settle(page)
        assert page.url.removeprefix(full) == ("/" if name == "help" else f"/{address(name)}")
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


def test_another_website_cannot_listen_in(full: str) -> None:
    """The stream of a page is opened for its own origin only (RFC 6455, section 10.2)."""
    answers = {origin: stream_status(full, origin) for origin in (full, "https://other.example")}
    assert answers[full] == 101
    assert answers["https://other.example"] in (400, 403)


def stream_status(address: str, origin: str) -> int:
    """The status with which the server answers the handshake of a WebSocket (RFC 6455, section 4.1)."""
    host = address.removeprefix("http://")
    connection = http.client.HTTPConnection(host, timeout=10)
    headers = {"Connection": "Upgrade", "Upgrade": "websocket", "Sec-WebSocket-Version": "13"}
    headers |= {"Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ==", "Origin": origin}
    connection.request("GET", "/_stcore/stream", headers=headers)
    status = connection.getresponse().status
    connection.close()
    return status


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


def test_a_file_of_50_mb_shows_progress(chromium: Browser, full: str, tmp_path: Path) -> None:
    """The last test of this file: the server goes on reading when the test is over."""
    rows = (f"07,@,{n % 20 + 1},{60 + n % 3}.{n % 1000:03d}\n" for n in range(20_000))
    block = "".join(rows)
    file = tmp_path / "season.csv"
    with file.open("w", encoding="utf-8") as out:
        out.write("Kart,Session,Lap,Lap time\n")
        for number in range(170):
            out.write(block.replace("@", f"P{number}"))
    assert file.stat().st_size > 50_000_000
    page, _ = kit.open_page(chromium, f"{full}/{address('bring')}")
    page.locator("input[type=file]").first.set_input_files(file)
    page.locator("[data-testid=stSpinner], [data-testid=stProgress]").first.wait_for(timeout=kit.PATIENCE_MS)
    assert page.get_by_text("Reading season.csv").count() >= 1
    page.close()
