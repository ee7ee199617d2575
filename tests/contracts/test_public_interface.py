"""The names, signatures and shapes that other programs call. A change here needs a line in CHANGELOG.md."""

import dataclasses
import inspect
import json
import subprocess
import sys
from pathlib import Path

import pytest
from public_interface import WRITTEN, described, fingerprint

import lapdelta

CHANGELOG = (Path(__file__).resolve().parents[2] / "CHANGELOG.md").read_text(encoding="utf-8")
PUBLIC = {
    "read_timing", "Archive", "compare", "plan_test", "season", "gearing", "Reading", "Finding",
    "UnreadableFile", "QuestionError",
}  # fmt: skip

FINDING = [
    "kart",
    "measure",
    "unit",
    "before",
    "after",
    "estimate",
    "standard_error",
    "low",
    "high",
    "dof",
    "confidence",
    "p_value",
    "margin",
    "verdict",
    "flags",
    "chance_better",
    "chance_worthwhile",
    "half_width",
    "smallest_margin",
    "method",
    "reasons",
    "checks",
    "cells",
    "sectors",
    "quantiles",
    "placebo",
    "choices",
    "setup_differences",
    "tipping_rate",
    "lap_noise_share",
    "fingerprint",
    "settings",
    "version",
]


def parameters(function):
    return [
        (p.name, p.kind.name, None if p.default is p.empty else p.default)
        for p in inspect.signature(function).parameters.values()
        if p.name != "self"
    ]


def test_exactly_these_names_are_public():
    assert set(lapdelta.__all__) == PUBLIC
    for name in PUBLIC:
        assert getattr(lapdelta, name) is not None
    with pytest.raises(AttributeError):
        lapdelta.no_such_name  # noqa: B018


def test_a_change_of_the_interface_is_written_down():
    now = described()
    assert now == WRITTEN.read_text(encoding="utf-8"), "run: python tests/public_interface.py"
    assert f"(interface {fingerprint(now)})" in CHANGELOG, "CHANGELOG.md does not say what changed"


def test_read_timing_signature():
    assert parameters(lapdelta.read_timing) == [
        ("path_or_bytes", "POSITIONAL_OR_KEYWORD", None),
        ("name", "POSITIONAL_OR_KEYWORD", None),
        ("recipe", "POSITIONAL_OR_KEYWORD", None),
        ("answers", "POSITIONAL_OR_KEYWORD", None),
    ]
    assert {"laps", "set_aside", "questions", "account", "recipe"} <= {
        f.name for f in dataclasses.fields(lapdelta.Reading)
    }


def test_compare_signature():
    assert parameters(lapdelta.compare) == [
        ("laps", "POSITIONAL_OR_KEYWORD", None),
        ("kart", "KEYWORD_ONLY", None),
        ("before", "KEYWORD_ONLY", None),
        ("after", "KEYWORD_ONLY", None),
        ("measure", "KEYWORD_ONLY", "lap_time"),
        ("margin", "KEYWORD_ONLY", None),
        ("confidence", "KEYWORD_ONLY", 0.95),
        ("setups", "KEYWORD_ONLY", None),
        ("history", "KEYWORD_ONLY", None),
    ]


def test_finding_fields_in_order():
    assert [field.name for field in dataclasses.fields(lapdelta.Finding)] == FINDING
    assert lapdelta.Finding.__dataclass_params__.frozen


def test_archive_signature():
    for name in ("add", "laps", "setups", "events", "history", "undo"):
        assert hasattr(lapdelta.Archive, name)
    assert parameters(lapdelta.Archive.add)[:2] == [
        ("reading", "POSITIONAL_OR_KEYWORD", None),
        ("event", "POSITIONAL_OR_KEYWORD", None),
    ]
    assert parameters(lapdelta.Archive.laps)[0][0] == "event"
    assert parameters(lapdelta.Archive.undo)[0][0] == "entry"
    assert isinstance(inspect.getattr_static(lapdelta.Archive, "setups"), property)
    assert isinstance(inspect.getattr_static(lapdelta.Archive, "events"), property)


def test_errors_are_of_the_promised_kind():
    assert issubclass(lapdelta.QuestionError, ValueError)
    assert issubclass(lapdelta.UnreadableFile, Exception)


def test_gearing_signatures():
    gearing = lapdelta.gearing
    assert [name for name, *_ in parameters(gearing.ratio)] == ["engine_teeth", "axle_teeth"]
    assert parameters(gearing.speed_kmh)[-1] == ("slip", "POSITIONAL_OR_KEYWORD", 0.0)
    assert [n for n, *_ in parameters(gearing.speed_kmh)] == [
        "rpm", "engine_teeth", "axle_teeth", "circumference_m", "slip",
    ]  # fmt: skip
    assert [n for n, *_ in parameters(gearing.rpm_at)] == [
        "speed_kmh", "engine_teeth", "axle_teeth", "circumference_m", "slip",
    ]  # fmt: skip
    assert [n for n, *_ in parameters(gearing.pitch_diameter_mm)] == ["teeth", "pitch_mm"]
    assert [n for n, *_ in parameters(gearing.chain_length_pitches)] == [
        "centre_mm", "engine_teeth", "axle_teeth", "pitch_mm", "handbook",
    ]  # fmt: skip
    assert [n for n, *_ in parameters(gearing.centre_distance_mm)] == [
        "links", "engine_teeth", "axle_teeth", "pitch_mm", "handbook",
    ]  # fmt: skip
    assert callable(gearing.pulled)


def test_importing_lapdelta_loads_nothing_heavy():
    code = "import sys, json, lapdelta; print(json.dumps(sorted(sys.modules)))"
    loaded = set(
        json.loads(subprocess.run([sys.executable, "-c", code], check=True, capture_output=True).stdout)
    )
    assert loaded.isdisjoint(
        {"polars", "numpy", "scipy", "pyarrow", "deltalake", "altair", "streamlit", "click"}
    )


def test_the_numeric_core_loads_no_table_or_screen_library():
    code = (
        "import sys, json, pkgutil, importlib, lapdelta.effect, lapdelta.gearing\n"
        "for package in (lapdelta.effect, lapdelta.gearing):\n"
        "    for module in pkgutil.iter_modules(package.__path__, package.__name__ + '.'):\n"
        "        importlib.import_module(module.name)\n"
        "print(json.dumps(sorted(sys.modules)))"
    )
    loaded = set(
        json.loads(subprocess.run([sys.executable, "-c", code], check=True, capture_output=True).stdout)
    )
    assert loaded.isdisjoint(
        {"polars", "pyarrow", "deltalake", "altair", "streamlit", "click", "scipy.stats"}
    )
