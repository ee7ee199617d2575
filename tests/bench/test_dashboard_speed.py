"""From the start of the program to the first answer on the page, and from one measure to another; in Chromium.

Only figures are printed: wall time, and beside it the server's CPU time, which a busy machine changes less. The
bound is 3 s to the first answer and 0.5 s to another measure, on two free cores with the sample season.
"""

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import browser_kit as kit
import polars as pl
import pytest
from playwright.sync_api import Browser, sync_playwright

import lapdelta
import sample_sessions
from dashboard.launch import free_port
from lapdelta.asking.archive_question import ask
from lapdelta.setups import read_setup_csv

EVENT, OLD, NEW = "2025-05-18", ("P1", "P4", "P6", "P7"), ("P2", "P3", "P5", "P8")
ANSWER = "[data-testid=stMarkdownContainer] strong"


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The whole sample season, one question asked."""
    archive = lapdelta.Archive(tmp_path_factory.mktemp("season") / "archive")
    for event, path in sample_sessions.timing_files():
        archive.add(lapdelta.read_timing(path), event=event)
    for event, kart in (
        pl.read_csv(sample_sessions.EVENTS, infer_schema=False).select("event", "our_kart").rows()
    ):
        archive.put_event(event, our_kart=kart)
    archive.put_setups(read_setup_csv(sample_sessions.SETUP_SHEET))
    ask(archive, event=EVENT, before=OLD, after=NEW)
    return archive.folder


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        arguments = ["--no-sandbox", "--disable-dev-shm-usage"]
        found = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=arguments)
        yield found
        found.close()


def cpu_s(process: "subprocess.Popen[bytes]") -> float:
    """CPU time of a process so far, s; /proc of Linux (proc(5): utime and stime are fields 14 and 15)."""
    fields = Path(f"/proc/{process.pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def test_first_answer_and_another_measure(chromium: Browser, season: Path) -> None:
    page = chromium.new_page(viewport={"width": 1280, "height": 900}, locale="en-GB")
    port = free_port()
    words = ["dashboard", "--no-browser", "--port", str(port), "--archive", str(season)]
    start = time.perf_counter()
    server = subprocess.Popen(
        [sys.executable, "-m", "lapdelta", *words],
        cwd=kit.ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    )
    try:
        kit.wait_for(f"http://127.0.0.1:{port}/_stcore/health")
        ready = time.perf_counter() - start
        page.goto(f"http://127.0.0.1:{port}/")
        page.locator(ANSWER, has_text="than it would have been").wait_for(timeout=kit.PATIENCE_MS)
        answered, spent = time.perf_counter() - start, cpu_s(server)
        page.wait_for_selector("[data-testid=stVegaLiteChart] :is(svg, canvas)", timeout=kit.PATIENCE_MS)
        kit.settle(page)
        drawn = time.perf_counter() - start
        print(
            f"\nserver ready {ready:.2f} s, first answer {answered:.2f} s (server {spent:.2f} s CPU), "
            f"picture {drawn:.2f} s; load {os.getloadavg()[0]:.1f}"
        )
        for measure, said in (("Top speed", "km/h"), ("Sector 1", "sector 1"), ("Lap time", "a lap")):
            before = cpu_s(server)
            start_click = time.perf_counter()
            page.get_by_role("radio", name=measure, exact=True).click()
            page.locator(ANSWER, has_text=said).wait_for(timeout=kit.PATIENCE_MS)
            took = time.perf_counter() - start_click
            kit.settle(page)
            print(f"{measure}: {took:.2f} s (server {cpu_s(server) - before:.2f} s CPU)")
    finally:
        server.terminate()
        output = server.communicate(timeout=20)[0].decode()
        page.close()
    # The terminal is ours: where the pages are, and how to stop.
    assert len(output.strip().splitlines()) == 1
    assert "stop with Ctrl-C" in output
