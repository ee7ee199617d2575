"""Units of the user's choice: NIST SP 811 (2008), appendix B.8 and B.9, from memory of the printed tables."""

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapdelta.archive import Archive
from lapdelta.cli.main import run
from lapdelta.errors import SetupError
from lapdelta.setups import parse_setup
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
    assert "pressure_front_left_psi" in shown
    assert " 9 " in shown
    assert "9.427" in shown
    assert "air_temperature_F" in shown
    assert run(["setup", "2026-05-16", *place, "--json"]) == 0
    row = json.loads(capsys.readouterr().out)["setups"][0]
    assert row["pressure_front_left_bar"] == pytest.approx(9 * 0.06894757, rel=1e-6)
    assert row["air_temperature_c"] == 20.0
    assert parse_setup("front=9", IMPERIAL) == parse_setup("front=9psi")
