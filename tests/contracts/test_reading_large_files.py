"""Large files are read in parts and not held: parts may end anywhere, and the file may change meanwhile."""

from pathlib import Path

import pytest

from lapdelta.reading import UnreadableFile, fast_scan, read_timing, source
from lapdelta.reading.careful import read_carefully
from lapdelta.reading.recipe import Recipe

HEAD = "Session,Kart,Driver,Lap,Lap time,Speed (km/h)"
LAPS = 500


def lines(laps: int = LAPS, driver: str = "Zoë Ünlü") -> list[str]:
    rows = [
        f"P{at // 20},07,{driver} {at % 3},{at % 20 + 1},{60 + at % 7 / 8:.3f},{90 + at % 9}.5"
        for at in range(laps)
    ]
    return [HEAD, *rows]


@pytest.fixture
def small_parts(monkeypatch: pytest.MonkeyPatch) -> None:
    """Parts of some kilobytes; no file is held."""
    monkeypatch.setattr(fast_scan, "_PART_BYTES", 8_192)
    monkeypatch.setattr(source, "LARGEST_HELD", 0)


def written(folder: Path, text: str | bytes) -> Path:
    path = folder / "P1.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def assert_as_line_by_line(path: Path) -> None:
    reading = read_timing(path)
    careful = read_carefully(source.load(path), {}, Recipe())
    assert reading.laps.equals(careful.laps)
    assert reading.set_aside.equals(careful.set_aside)
    assert reading.account == careful.account
    assert reading.laps.height >= LAPS - 1


@pytest.mark.usefixtures("small_parts")
@pytest.mark.parametrize(
    "text",
    [
        "\n".join(lines()) + "\n",
        "\r\n".join(lines()) + "\r\n",
        "\n".join(lines(driver='"Ünlü, Zoë"')) + "\n",
        "\n".join(lines(driver="渡辺 はるか")) + "\n",
        "\n".join(lines()),
        "\n".join(lines()) + "\n\x1a",
        "\n".join([*lines(), 'P30,07,"a quote', 'over two lines",1,60.123,91.0', *lines()[:0]]) + "\n",
    ],
    ids=["lf", "crlf", "quotes", "three bytes a letter", "no last line end", "end mark", "a record of two lines"],
)  # fmt: skip
def test_parts_end_anywhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    path = written(tmp_path, text)
    for size in (
        16_384,
        16_385,
        16_386,
        16_387,
        16_391,
    ):  # a boundary falls into a letter, a quote, between CR and LF
        monkeypatch.setattr(fast_scan, "_PART_BYTES", size)
        assert_as_line_by_line(path)


@pytest.mark.usefixtures("small_parts")
def test_a_part_ends_exactly_at_a_line_end(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = "\n".join(lines()) + "\n"
    ends = [at + 1 for at, sign in enumerate(text.encode()) if sign == 10]
    monkeypatch.setattr(fast_scan, "_PART_BYTES", ends[200])
    assert_as_line_by_line(written(tmp_path, text))


@pytest.mark.usefixtures("small_parts")
def test_the_last_line_was_cut_off(tmp_path: Path) -> None:
    whole = "\n".join(lines())
    reading = read_timing(written(tmp_path, whole[: whole.rindex(",") + 3]))
    assert reading.laps.height == LAPS - 1
    assert reading.set_aside.rows()[-1][0::3] == (LAPS + 1, "file may be cut off")
    assert_as_line_by_line(written(tmp_path, whole[: whole.rindex(",")]))


@pytest.mark.usefixtures("small_parts")
@pytest.mark.parametrize(
    "junk", [b"\x00", b"\r", b"\xff\xfe\xfd", b"\xc3"], ids=["NUL", "CR", "no text", "half a letter"]
)
def test_bytes_that_are_odd_in_a_later_part(tmp_path: Path, junk: bytes) -> None:
    """Refused, or read as the careful path reads them; never half."""
    data = ("\n".join(lines()) + "\n").encode()
    at = data.index(b"\n", 12_000) - 20
    path = written(tmp_path, data[:at] + junk + data[at:])
    try:
        careful = read_carefully(source.load(path), {}, Recipe())
    except UnreadableFile:
        with pytest.raises(UnreadableFile):
            read_timing(path)
        return
    reading = read_timing(path)
    assert reading.laps.equals(careful.laps)
    assert reading.account == careful.account


@pytest.mark.usefixtures("small_parts")
def test_a_file_that_changes_while_it_is_read_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = written(tmp_path, "\n".join(lines()) + "\n")
    whole = fast_scan.parts_of

    def grown(given: source.Source) -> object:
        with path.open("a") as file:
            file.write("P99,07,Zoë,1,60.000,90.0\n")
        return whole(given)

    monkeypatch.setattr("lapdelta.reading.fast.parts_of", grown)
    with pytest.raises(UnreadableFile, match="changed while it was in use"):
        read_timing(path)


@pytest.mark.usefixtures("small_parts")
@pytest.mark.parametrize("change", ["grown", "replaced", "gone"])
def test_a_file_that_changes_after_it_was_read(tmp_path: Path, change: str) -> None:
    """The laps stay as they were read; the bytes of another file are never given for those of this one."""
    path = written(tmp_path, "\n".join(lines()) + "\n")
    reading = read_timing(path)
    assert len(reading.data) == path.stat().st_size
    if change == "grown":
        path.write_bytes(path.read_bytes() + b"P99,07,Zo,1,60.000,90.0\n")
    elif change == "replaced":
        path.write_bytes(path.read_bytes().replace(b",60.000,", b",60.001,", 1))
    else:
        path.unlink()
    assert reading.laps.height == LAPS
    with pytest.raises(UnreadableFile, match="moved or changed"):
        _ = reading.data


@pytest.mark.usefixtures("small_parts")
def test_odd_rows_in_many_parts_stay_by_themselves(tmp_path: Path) -> None:
    rows = lines(4000)
    for at in (700, 1500, 2500, 3900):
        rows[at] = rows[at].replace(",07,", ",,")
    reading = read_timing(written(tmp_path, "\n".join(rows) + "\n"))
    assert reading.set_aside.get_column("line").to_list() == [701, 1501, 2501, 3901]
    assert reading.account["lap_lines"] == 3996
