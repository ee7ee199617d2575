"""Units of the user's choice: NIST SP 811 (2008), appendix B.8 and B.9, from memory of the printed tables."""

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest
from command_in_process import command
from findings_by_hand import LOWER_SPEED
from findings_by_hand import finding as finding_with
from hypothesis import given
from hypothesis import strategies as st
from polars.testing import assert_frame_equal
from sample_archive import DAYS, make_archive

from lapdelta.archive import Archive
from lapdelta.cli.main import run
from lapdelta.errors import SetupError
from lapdelta.pictures.change_dots import change_dots
from lapdelta.pictures.placebo import placebo
from lapdelta.pictures.quantiles import quantile_shift
from lapdelta.pictures.sessions import sessions
from lapdelta.setups import parse_setup, read_setup_csv, write_setup_csv
from lapdelta.sheet.own_units import in_units
from lapdelta.sheet.sentences import say
from lapdelta.sheet.subject import subject
from lapdelta.units import CHOICES, Units, choose

IMPERIAL = choose(Units(), "psi", "f", "MPH", "inch", "lb")
STORED = ("bar", "C", "km/h", "mm", "kg")


@pytest.mark.parametrize(
    ("typed", "unit", "stored"),
    [
        # NIST SP 811, B.8: pound-force per square inch = 6.894 757 E+03 Pa
        (10.0, "bar", 0.6894757),
        # NIST SP 811, B.8: t/C = (t/F - 32)/1.8
        (212.0, "C", 100.0),
        (-40.0, "C", -40.0),
        # NIST SP 811, B.8: mile per hour = 1.609 344 km/h, inch = 25.4 mm, pound = 4.535 924 E-01 kg
        (60.0, "km/h", 96.56064),
        (2.0, "mm", 50.8),
        (10.0, "kg", 4.535924),
        (14250.0, "1/min", 14250.0),
    ],
)
def test_published_factors(typed: float, unit: str, stored: float) -> None:
    assert IMPERIAL.kept(typed, unit) == pytest.approx(stored, rel=1e-6)
    assert IMPERIAL.shown(stored, unit) == pytest.approx(typed, rel=1e-6)


def test_a_difference_of_temperatures_has_no_offset() -> None:
    assert IMPERIAL.shown_change(5.0, "C") == pytest.approx(9.0)


@given(st.floats(-1e4, 1e4), st.sampled_from(STORED))
def test_there_and_back_is_the_same(value: float, unit: str) -> None:
    assert IMPERIAL.kept(IMPERIAL.shown(value, unit), unit) == pytest.approx(value, abs=1e-8)
    assert Units().shown(value, unit) == Units().kept(value, unit) == value


def test_a_choice_is_kept_with_the_archive_and_bad_ones_are_refused(tmp_path: Path) -> None:
    archive = Archive(tmp_path / "kept")
    assert archive.units == Units()
    assert archive.put_units("psi", "F") == Units(pressure="psi", temperature="F")
    assert Archive(archive.folder).put_units("c").temperature == "C"
    assert archive.units.pressure == "psi"
    with pytest.raises(SetupError, match="not a unit to choose"):
        archive.put_units("furlong")
    (archive.folder / "units.json").write_text("{")
    with pytest.raises(SetupError, match="is damaged"):
        _ = archive.units
    assert {next(iter(units)) for units in CHOICES.values()} == set(STORED)


def test_typed_and_shown_in_the_chosen_units_stored_in_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = ["--archive", str(tmp_path / "kept")]
    assert run(["units", "psi", "F", *place]) == 0
    setup = ["setup", "2026-05-16", "P1", "--kart", "07", "front=9", "rear=0.65bar", "air=68", *place]
    assert run(setup) == 0
    shown = capsys.readouterr().out
    lines = [re.split(r" {2,}", line) for line in shown.splitlines()]
    assert ["Front left pressure, psi", "9"] in lines
    assert ["Rear left pressure, psi", "9.427"] in lines
    assert ["Air temperature, F", "68"] in lines
    assert run(["setup", "2026-05-16", *place, "--json"]) == 0
    row = json.loads(capsys.readouterr().out)["setups"][0]
    assert row["pressure_front_left_bar"] == pytest.approx(9 * 0.06894757, rel=1e-6)
    assert row["air_temperature_c"] == 20.0
    assert parse_setup("front=9", IMPERIAL) == parse_setup("front=9psi")


#: Exact by definition (NIST SP 811, appendix B.8): 1 in = 25.4 mm, 1 mi = 1609.344 m, 1 lb = 0.453 592 37 kg; and
#: 1 psi = 6894.757 293 168 Pa, its 13 digits from memory of the definition 0.453 592 37 x 9.806 65 / 0.0254^2.
@pytest.mark.parametrize(
    ("said", "own"),
    [
        ("The engine slides 5.5 mm away from the axle, to 204.3 mm between centres.",
         "The engine slides 0.217 inch away from the axle, to 8.043 inch between centres."),
        ("within the slots (180 to 220 mm)", "within the slots (7.09 to 8.66 inch)"),
        ("11/82, 7.774 mm, 104 links", "11/82, 0.3061 inch, 104 links"),
        ("14000 1/min is 96.6 km/h", "14000 1/min is 60.0 mph"),
        ("probably between -0.5 and +1.6 km/h", "probably between -0.3 and +1.0 mph"),
        ("pressure rear left 0.62 -> 0.66 bar", "pressure rear left 9.0 -> 9.6 psi"),
        ("zwischen 0,4 und 2,0 km/h höher", "zwischen 0,2 und 1,2 mph höher"),
        ("a kart of 160 kg", "a kart of 353 lb"),
        # no amounts of ours: areas, mm a second, times, teeth
        ("0.9 mm2 and 3 mm/s, 1e-05 mm, 0.61 s a lap, axle 82 -> 81", None),
    ],
)  # fmt: skip
def test_sentences_are_said_in_the_chosen_units(said: str, own: str | None) -> None:
    assert IMPERIAL.said(said) == (own or said)
    assert Units().said(said) == said


@given(
    st.floats(0.01, 1000),
    st.sampled_from([("mm", 25.4, 2), ("km/h", 1.609344, 1), ("bar", 0.06894757293168, 2)]),
)
def test_a_sentence_keeps_the_precision_it_was_said_with(value: float, unit: tuple[str, float, int]) -> None:
    stored, factor, decimals = unit
    text = f"{value:.{decimals}f} {stored}"
    shown = float(IMPERIAL.said(text).split()[0])
    assert shown * factor == pytest.approx(float(text.split()[0]), abs=factor * 0.5 * 10 ** -(decimals - 1))


def test_the_gearing_commands_take_and_say_the_chosen_units(tmp_path: Path) -> None:
    place = ("--archive", tmp_path / "kept")
    assert command("units", "mph", "inch", *place).status == 0
    speed = ("gearing", "speed", "--engine", 11, "--axle", 82, "--circumference", 33.9, *place)
    exact = command(*speed, "--speed", 60, "--json").json
    assert exact["speed_kmh"] == pytest.approx(60 * 1.609344)
    assert exact["circumference_m"] == pytest.approx(33.9 * 0.0254)
    # an option that names its unit, and a unit behind the number, say what they say
    assert command(*speed, "--speed-kmh", 60, "--json").json["speed_kmh"] == 60
    assert command(*speed, "--speed=60km/h", "--json").json["speed_kmh"] == 60
    shown = command(*speed, "--speed", 60).out
    assert "is 60.0 mph with a tyre of 33.90 inch around" in shown
    assert "km/h" not in shown
    chain = ("gearing", "chain", "--engine", 11, "--axle", 82, "--pitch", "3/8", "--links", 108, *place)
    facts = command(*chain, "--slots", 7, "9", "--axle-after", 80, "--json").json
    assert facts["pitch_mm"] == pytest.approx(9.525)
    assert facts["within_slots"] in (True, False)
    text = command(*chain, "--slots", 7, "9", "--axle-after", 80).out
    assert "slots (7.000 to 9.000 inch)" in text
    assert " mm " not in text.split("\n\n")[0]


def test_boxes_lengths_and_margins_are_in_the_chosen_units(tmp_path: Path) -> None:
    archive = make_archive(tmp_path / "kept")
    place = ("--archive", archive.folder)
    archive.put_units("mph", "inch", "psi")
    add = ("parts", "add", "axle 84", "--kind", "axle sprocket", "--teeth", 84, *place)
    assert command(*add, "--pitch", "0.306").status == 0
    assert "1 mile a lap" in command("parts", "lap-length", "1mile", "--event", DAYS[1], *place).out
    box = command("parts", "--json", *place).json["parts"][0]
    assert box["pitch_mm"] == pytest.approx(0.306 * 25.4)
    header, row = command("parts", *place).out.splitlines()[:2]
    assert "pitch inch" in header
    assert " mile " in header
    assert " 0.306 " in row
    assert box["distance_km"] == pytest.approx(row_miles(header, row) * 1.609344, abs=0.1)
    question = (
        "compare",
        "--event",
        DAYS[1],
        "--before",
        "P1",
        "--after",
        "P2",
        "--measure",
        "top_speed",
        *place,
    )
    finding = command(*question, "--margin", 1, "--json").json
    assert finding["unit"] == "km/h"
    assert finding["margin"] == pytest.approx(1.609344)
    written = ("question", DAYS[1], "--after", "P2", "--measure", "top_speed", "--margin", 1, *place)
    assert command(*written, "--words", "the seat 5 mm lower").status == 0
    assert "top speed worth having from 1 mph" in command("question", *place).out
    told = command(*question, "--margin", 1).out
    assert "Worth having from 1 mph." in told
    assert "the seat 5 mm lower" in told  # the user's own words stay
    assert "km/h" not in told
    page = tmp_path / "page.html"
    assert command("share", *question[1:], "--out", page).status == 0
    assert "mph" in page.read_text(encoding="utf-8")
    assert "km/h" not in page.read_text(encoding="utf-8")


def test_a_finding_is_shown_in_mph_in_words_and_on_every_axis() -> None:
    quantile = {
        "quantile": 0.5,
        "estimate": -1.0,
        "standard_error": 0.2,
        "low": -1.4,
        "high": -0.6,
        "dof": 9.0,
    }
    finding = replace(LOWER_SPEED, quantiles=(quantile,), margin=1.609344)
    shown = in_units(finding, IMPERIAL)
    assert in_units(finding, Units()) == finding
    assert shown.unit == "mph"
    assert finding.estimate is not None
    assert finding.standard_error is not None
    assert shown.estimate == pytest.approx(finding.estimate / 1.609344)
    assert shown.standard_error == pytest.approx(finding.standard_error / 1.609344)
    assert shown.margin == pytest.approx(1.0)
    for old, new in zip(finding.cells, shown.cells, strict=True):
        if old["pace"] is not None:
            assert new["pace"] == pytest.approx(old["pace"] / 1.609344)
        if old["variance"] is not None:
            assert new["variance"] == pytest.approx(old["variance"] / 1.609344**2)
    (old_rows, new_rows) = ([row["shift"] for row in one.placebo] for one in (finding, shown))
    assert new_rows == pytest.approx([shift / 1.609344 for shift in old_rows])
    pictures = [change_dots(shown), sessions(shown, who="kart 07"), placebo(shown), quantile_shift(shown)]
    for text in [*say(shown), *(json.dumps(chart.to_dict()) for chart in pictures)]:
        assert "km/h" not in text
    assert sum("mph" in json.dumps(chart.to_dict()) for chart in pictures) == len(pictures)


def test_what_differs_on_the_sheet_is_said_in_the_chosen_units() -> None:
    psi, kpa = choose(Units(), "psi"), choose(Units(), "kPa")
    item = {"item": "pressure_rear_left_bar", "before": [0.62], "after": [0.68947573]}
    finding = finding_with(setup_differences=(item,))
    assert "Rear left pressure, bar, from 0.62 to 0.689476" in subject(finding)
    # NIST SP 811, B.8: 1 psi = 6.894 757 kPa
    assert "Rear left pressure, psi, from 8.992 to 10" in subject(in_units(finding, psi))
    assert "Rear left pressure, kPa, from 62 to 68.95" in subject(in_units(finding, kpa))
    assert "Druck hinten links, psi, von 8" in subject(in_units(finding, psi), "de")


def row_miles(header: str, row: str) -> float:
    return float(row[header.index("mile") :].removeprefix(">=").split()[0])


def test_a_setup_sheet_goes_out_and_comes_back_in_the_chosen_units(tmp_path: Path) -> None:
    archive = make_archive(tmp_path / "kept")
    archive.put_units("psi", "F", "inch")
    text = write_setup_csv(archive.setups, archive.units)
    assert "pressure_front_left_psi" in text
    assert "_bar" not in text.splitlines()[0]
    assert_frame_equal(
        read_setup_csv(text.encode(), units=archive.units),
        read_setup_csv(write_setup_csv(archive.setups).encode()),
    )
    bare = b"event,session,kart,front,pressure_rear_left_bar\nmay,P1,07,9,0.6\n"
    row = read_setup_csv(bare, units=archive.units).row(0, named=True)
    assert row["pressure_front_left_bar"] == pytest.approx(9 * 0.06894757293168)
    assert row["pressure_rear_left_bar"] == 0.6
