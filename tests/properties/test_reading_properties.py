"""Properties of reading: round trips are exact, mutated files never invent a lap, both paths agree."""

import datetime as dt
import random
import re
from collections.abc import Callable

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reading_corpus import Made, make

from lapdelta.reading import Reading, Recipe, UnreadableFile, read_timing
from lapdelta.reading.careful import read_carefully
from lapdelta.reading.fast import read_fast
from lapdelta.reading.source import load
from lapdelta.tables import LAPS, SET_ASIDE


def laps_of(reading: Reading) -> set[tuple[object, ...]]:
    return {
        (
            row["kart"],
            row["driver"],
            row["lap"],
            round(row["lap_time_s"], 4),
            tuple(None if sector is None else round(sector, 4) for sector in row["sector_times_s"]),
            row["top_speed_kmh"],
            row["peak_rpm"],
        )
        for row in reading.laps.iter_rows(named=True)
    }


def laps_in(made: Made) -> set[tuple[object, ...]]:
    return {(k, d, n, t, tuple(round(s, 4) for s in parts), v, r) for k, d, n, t, parts, v, r in made.laps}


def assert_account(reading: Reading) -> None:
    account = reading.account
    assert (
        account["lines"] == account["lap_lines"] + sum(account["known"].values()) + account["set_aside_lines"]
    )
    whole = reading.set_aside.filter(pl.col("column").is_null())
    assert whole.height == account["set_aside_lines"]
    assert reading.set_aside.height - whole.height == account["set_aside_cells"]
    assert reading.laps.height == account["laps"]
    assert dict(reading.laps.schema) == dict(LAPS)
    assert dict(reading.set_aside.schema) == dict(SET_ASIDE)


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_a_written_table_reads_back_to_itself(seed: int) -> None:
    made = make(seed)
    reading = read_timing(made.data, name="P1.csv")
    assert_account(reading)
    assert reading.questions == (), made.what
    assert laps_of(reading) == laps_in(made), made.what
    assert reading.laps.height == len(made.laps)


@settings(max_examples=80, deadline=None)
@given(seed=st.integers(0, 10**6), data=st.data())
def test_lost_and_doubled_lines_never_make_a_lap(seed: int, data: st.DataObject) -> None:
    made = make(seed)
    lines = made.data.splitlines(keepends=True)
    if made.data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return  # lines of UTF-16 cannot be cut at single bytes
    at = data.draw(st.integers(1, len(lines) - 1))
    mutated = lines[:at] + ([lines[at], lines[at]] if data.draw(st.booleans()) else []) + lines[at + 1 :]
    try:
        reading = read_timing(b"".join(mutated), name="P1.csv")
    except UnreadableFile:
        return
    assert_account(reading)
    titled = lines[at].strip().startswith(b"Kart ") and not any(
        sign in lines[at] for sign in (b",", b";", b"\t", b"|")
    )
    if not titled:  # a block whose own title is lost cannot be told from the block above it
        assert laps_of(reading) <= laps_in(made), made.what


def is_printed(reading: Reading, data: bytes, lap: dict[str, object]) -> bool:
    """Whether the digits of a lap time, in seconds or minutes, stand in the line that the lap names (or follow it)."""
    text = data.decode(reading.encoding, errors="replace").removeprefix("\ufeff")
    lines = re.split(r"\r\n|\n|\r", text)
    line = int(str(lap["source_line"]))
    digits = re.sub(r"\D", "", "".join(lines[line - 1 : line + 12]))
    seconds = round(float(str(lap["lap_time_s"])), 6)
    minutes, rest = divmod(seconds, 60)
    forms = [f"{seconds:.6f}", f"{int(minutes)}{rest:09.6f}", f"{int(minutes)}{rest:.6f}"]
    return any(re.sub(r"\D", "", form.rstrip("0")) in digits for form in forms)


@settings(max_examples=120, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    hits=st.lists(
        st.tuples(st.floats(0, 1, exclude_max=True), st.sampled_from(["drop", "put", "insert", "cut"]),
                  st.sampled_from(list(b"0123456789:.,;|*\"'- \t\nx\xe9"))),
        min_size=1, max_size=3,
    ),
)  # fmt: skip
def test_damaged_bytes_never_crash_and_never_invent_a_time(
    seed: int, hits: list[tuple[float, str, int]]
) -> None:
    made = make(seed)
    damaged = bytearray(made.data)
    for place, kind, byte in hits:
        at = int(place * len(damaged))
        if kind == "cut":
            del damaged[max(at, 1) :]
        elif kind == "insert":
            damaged.insert(at, byte)
        elif at < len(damaged):
            damaged[at : at + 1] = b"" if kind == "drop" else bytes([byte])
    data = bytes(damaged)
    try:
        reading = read_timing(data, name="P1.csv")
    except UnreadableFile:
        return
    assert_account(reading)
    if " day " not in made.what:
        assert all(is_printed(reading, data, lap) for lap in reading.laps.iter_rows(named=True)), made.what


@settings(max_examples=150, deadline=None)
@given(junk=st.binary(min_size=0, max_size=400))
def test_any_bytes_are_read_or_refused(junk: bytes) -> None:
    try:
        reading = read_timing(junk, name="x.csv")
    except UnreadableFile:
        return
    assert_account(reading)


@settings(max_examples=150, deadline=None)
@given(
    rows=st.lists(
        st.lists(
            st.sampled_from(
                [
                    "7",
                    "07",
                    "1",
                    "2",
                    "60.1",
                    "1:00.1",
                    "59,873",
                    "DNF",
                    "",
                    '"',
                    "Best",
                    "Kart 7",
                    "Lap",
                    "Lap time",
                    "*",
                ]
            ),
            min_size=1,
            max_size=5,
        ),
        min_size=1,
        max_size=8,
    )
)
def test_any_table_of_known_pieces_adds_up(rows: list[list[str]]) -> None:
    text = "Kart;Lap;Lap time\n" + "\n".join(";".join(row) for row in rows)
    try:
        reading = read_timing(text.encode(), name="x.csv")
    except UnreadableFile:
        return
    assert_account(reading)
    printed = {60.1, 59.873}
    assert {round(value, 3) for value in reading.laps["lap_time_s"]} <= printed


def long_file(rng: random.Random, karts: int = 14) -> bytes:
    form, cumulative = rng.choice(["s", "m:ss", "ms"]), rng.random() < 0.5
    mark = rng.choice(".,")
    sign = rng.choice(";\t|" if mark == "," else ",;\t")

    def show(seconds: float) -> str:
        minutes, rest = divmod(round(seconds * 1000), 60000)
        forms = {
            "s": f"{seconds:.3f}",
            "ms": str(round(seconds * 1000)),
            "m:ss": f"{minutes}:{rest / 1000:06.3f}",
        }
        return forms[form].replace(".", mark)

    head = "Session Kart Driver Lap Laptime S1 S2 S3 Speed(mph) RPM Date Clock Status"
    rows = [head.split()]
    for kart in range(karts):
        for lap in range(1, 13):
            own = [round(rng.gauss(20, 1), 3) for _ in range(3)]
            parts = [sum(own[: n + 1]) for n in range(3)] if cumulative else own
            speed = f"{rng.uniform(50, 60):.1f}".replace(".", mark) if rng.random() < 0.9 else ""
            day = dt.date(2026, 5, 16).isoformat()
            rows.append(
                [
                    *("P1", f"{kart:02d}", f"=D{kart}", str(lap), show(sum(own)), *map(show, parts), speed),
                    *(
                        str(rng.randint(12000, 14000)),
                        day,
                        f"10:{lap:02d}:05.25",
                        rng.choice(["", "out", "pit"]),
                    ),
                ]
            )
    return ("\n".join(sign.join(row) for row in rows) + "\n").encode()


@pytest.mark.parametrize("seed", range(8))
def test_both_paths_give_the_same_reading(seed: int) -> None:
    source = load(long_file(random.Random(seed)), "day.csv")
    fast, careful = read_fast(source, {}, Recipe()), read_carefully(source, {}, Recipe())
    assert fast is not None
    assert fast.laps.equals(careful.laps)
    for part in ("account", "questions", "columns", "facts", "recipe", "encoding", "notes"):
        assert getattr(fast, part) == getattr(careful, part), part


#: What may be odd in a row, or stand between rows, of a file that is plain else.
ODDITIES: dict[str, Callable[[random.Random, list[str]], list[list[str]]]] = {
    "broken cell": lambda rng, cells: [put(cells, rng.randrange(len(cells)), rng.choice(JUNK))],
    "short row": lambda rng, cells: [cells[: rng.randrange(1, len(cells))]],
    "long row": lambda rng, cells: [[*cells, rng.choice(["", "x"])]],
    "half a header": lambda rng, cells: [[word if rng.random() < 0.6 else "" for word in HEAD], cells],
    "repeated header": lambda rng, cells: [HEAD, cells],
    "summary": lambda rng, cells: [cells, rng.choice(SUMMARIES)],
    "blank": lambda rng, cells: [[""], cells],
    "comment": lambda rng, cells: [[rng.choice(["# rain from here", "---------", "* = lap deleted"])], cells],
    "no time": lambda rng, cells: [put(cells, 4, rng.choice(["", "DNF", "---", "out"]))],
    "mark at the time": lambda rng, cells: [put(cells, 4, cells[4] + rng.choice([" P", "*", " (out)"]))],
    "wrong number": lambda rng, cells: [put(cells, 3, str(rng.randrange(1, 13)))],
    "twice": lambda rng, cells: [cells, cells],
    "quoted": lambda rng, cells: [put(cells, 2, f'"{cells[2]}"')],
    "quotes inside": lambda rng, cells: [put(cells, 2, rng.choice(['"a ""b"" c"', 'a "b" c', '"a" b', '""', '"""']))],
    "delimiter in quotes": lambda rng, cells: [[*cells[:2], '"a', 'b"', *cells[3:]]],
    "quote over two lines": lambda rng, cells: [[*cells[:2], '"a'], ['b"', *cells[3:]]],
    "absurd": lambda rng, cells: [put(cells, 4, rng.choice(["5.1", "14.9", "9000", "0"]))],
    "marked as text": lambda rng, cells: [put(cells, at := rng.choice([0, 1, 2, 3, 4]), "'" + cells[at])],
    "taken out": lambda rng, cells: [[rng.choice(["// ", "# ", "//", "% ", "##", "#"]) + cells[0], *cells[1:]]],
    "odd date": lambda rng, cells: [put(cells, 10, rng.choice(["", "026-05-16", "2026-5-16", "16.05.26"]))],
    "odd clock": lambda rng, cells: [put(cells, 11, rng.choice(["9:61:00", "25:00:00", "10:05", "10:05:00,25"]))],
    "other kart": lambda rng, cells: [put(cells, 1, rng.choice(["", "99", "03"]))],
    "letter for a digit": lambda rng, cells: [put(cells, at := rng.choice([4, 5, 6]), cells[at][:-1] + "S")],
    "another clock form": lambda rng, cells: [put(cells, 4, rng.choice(["60:10", "4:44.1", "301.2", "301200"]))],
    "a word for the kart": lambda rng, cells: [cells, put(put(cells, 1, "Zzz"), 3, rng.choice(["", "1"]))],
    "sectors of another lap": lambda rng, cells: [put(cells, 5, rng.choice(["22.222", "22222", "0:22.222"]))],
    "title": lambda rng, cells: [[rng.choice(["Kart 12", "Heat 2", "Track: Lakeside"])], cells],
}  # fmt: skip
JUNK = ["x", "", "0", "1:61.2", "999", "-5", '"', "nan", "1:02.345", "59.9"]
SUMMARIES = [["Average", "", "", "", "60.1"], ["P1", "00", "", "Best", "59.1"]]
HEAD = [
    "Session",
    "Kart",
    "Driver",
    "Lap",
    "Laptime",
    "S1",
    "S2",
    "S3",
    "Speed(mph)",
    "RPM",
    "Date",
    "Clock",
    "Status",
]


def put(cells: list[str], at: int, text: str) -> list[str]:
    return [*cells[:at], text, *cells[at + 1 :]]


def in_quotes(rng: random.Random, line: str, sign: str, share: float) -> str:
    """The line with that share of its cells in quotes; a blank one, or one that has quotes already, as it is."""
    if not line or '"' in line:
        return line
    return sign.join(f'"{cell}"' if rng.random() < share else cell for cell in line.split(sign))


def with_odd_rows(
    rng: random.Random,
    kinds: list[str],
    karts: int = 30,
    cut: float = 0.2,
    quoted: float = 0.0,
    may_be_first: bool = True,
) -> bytes:
    """A long file with a few odd rows, its last line cut off with the chance ``cut``, a share of cells ``quoted``."""
    lines = long_file(rng, karts).decode().split("\n")
    sign = next(sign for sign in (";", "\t", "|", ",") if sign in lines[0])
    for kind in kinds:
        first = [1] if may_be_first else []
        at = rng.choice([*first, rng.randrange(2, 100), rng.randrange(125, len(lines) - 1)])
        cells = lines[at].split(sign)
        if len(cells) == len(HEAD):
            lines[at : at + 1] = [sign.join(row) for row in ODDITIES[kind](rng, cells)]
    if quoted:
        lines = [in_quotes(rng, line, sign, quoted) for line in lines]
    text = "\n".join(lines)
    text = text[: -rng.randrange(1, 12)] if rng.random() < cut else text
    return text.replace("\n", "\r\n").encode() if rng.random() < 0.2 else text.encode()


def assert_same(fast: Reading, careful: Reading) -> None:
    assert fast.laps.equals(careful.laps)
    assert fast.set_aside.equals(careful.set_aside)
    for part in ("account", "questions", "columns", "facts", "recipe", "encoding", "notes"):
        assert getattr(fast, part) == getattr(careful, part), part


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    kinds=st.lists(st.sampled_from(sorted(ODDITIES)), min_size=1, max_size=4),
    quoted=st.sampled_from([0.0, 0.0, 0.5, 1.0]),
)
def test_a_few_odd_rows_give_what_the_careful_path_gives(seed: int, kinds: list[str], quoted: float) -> None:
    source = load(with_odd_rows(random.Random(seed), kinds, quoted=quoted), "day.csv")
    careful = read_carefully(source, {}, Recipe())
    assert_account(careful)
    if (fast := read_fast(source, {}, Recipe())) is not None:
        assert_same(fast, careful)


@pytest.mark.parametrize("quoted", [0.0, 1.0], ids=["bare", "quoted"])
@pytest.mark.parametrize("kind", sorted(set(ODDITIES) - {"title"}))
def test_the_fast_path_survives_an_odd_row(kind: str, quoted: float) -> None:
    """So that the property above is not true for want of fast readings; a title changes what the rows below mean."""
    source = load(
        with_odd_rows(random.Random(11), [kind], karts=40, cut=0, quoted=quoted, may_be_first=False),
        "day.csv",
    )
    fast = read_fast(source, {}, Recipe())
    assert fast is not None
    assert_same(fast, read_carefully(source, {}, Recipe()))


@pytest.mark.parametrize("odd", [False, True])
def test_numbered_sums_are_set_aside_on_both_paths(odd: bool) -> None:
    """A total below each kart's laps whose number was filled down with theirs; out laps may be as long."""
    rng = random.Random(5)
    lines = ["Session,Kart,Driver,Lap,Lap time"]
    for kart in range(60):
        times = [rng.randint(58_000, 62_000) for _ in range(10)]
        times[0] = rng.choice([times[0], 150_000])
        rows = [*times, sum(times)] if kart % 3 == 0 else times
        lines += [f"P1,{kart:02d},D{kart},{lap},{ms / 1000:.3f}" for lap, ms in enumerate(rows, 1)]
    if odd:
        lines[25] = lines[25].replace("P1,", "P1,,", 1)
        lines[300:300] = ["# rain"]
    source = load(("\n".join(lines) + "\n").encode(), "day.csv")
    fast, careful = read_fast(source, {}, Recipe()), read_carefully(source, {}, Recipe())
    assert fast is not None
    assert_same(fast, careful)
    assert_account(careful)
    reasons = careful.set_aside["reason"].to_list()
    assert reasons.count("the sum of the laps above, not a lap") == 20
    assert max(careful.laps["lap_time_s"]) <= 150.0
