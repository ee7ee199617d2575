"""The public gearing and planning names, their arguments and what they may import."""

import inspect
import json
import subprocess
import sys

import pytest

import lapdelta
from lapdelta import gearing

SIGNATURES = {
    "ratio": "(engine_teeth, axle_teeth)",
    "speed_kmh": "(rpm, engine_teeth, axle_teeth, circumference_m, slip=0.0)",
    "rpm_at": "(speed_kmh, engine_teeth, axle_teeth, circumference_m, slip=0.0)",
    "pitch_diameter_mm": "(teeth, pitch_mm)",
    "chain_length_pitches": "(centre_mm, engine_teeth, axle_teeth, pitch_mm, *, handbook=False)",
    "centre_distance_mm": "(links, engine_teeth, axle_teeth, pitch_mm, *, handbook=False)",
}


def bare_signature(function):
    """The signature without types."""
    parameters = inspect.signature(function).parameters.values()
    bare = [one.replace(annotation=inspect.Parameter.empty) for one in parameters]
    return str(inspect.Signature(bare))


@pytest.mark.parametrize("name", SIGNATURES)
def test_signatures_that_must_stay(name):
    assert bare_signature(getattr(gearing, name)) == SIGNATURES[name]


def test_everything_public_exists_and_says_what_it_is():
    assert sorted(gearing.__all__) == sorted(set(gearing.__all__))
    for name in gearing.__all__:
        thing = getattr(gearing, name)
        if callable(thing):
            assert inspect.getdoc(thing), name


def test_plan_test_is_public_and_keyword_only_after_the_laps():
    parameters = list(inspect.signature(lapdelta.plan_test).parameters.values())
    assert parameters[0].name == "laps"
    assert all(one.kind is inspect.Parameter.KEYWORD_ONLY for one in parameters[1:])


def test_gearing_loads_no_tables_and_no_scipy():
    code = (
        "import lapdelta.gearing, sys; print([m for m in ('polars', 'scipy', 'altair') if m in sys.modules])"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == "[]"


def test_results_are_plain_json():
    results = [
        gearing.chain_reach(104, 11, 82, 7.774, (200, 210)),
        gearing.engine_slide(104, 7.774, (11, 82), (11, 81)),
        gearing.ground_clearance(82, 7.774, 274),
        gearing.slack(12, 204, 11, 82, 7.774),
        gearing.chain_wear(156, 20, 7.774, 82),
        gearing.alignment(0.5, 204),
        gearing.pulled((11, 82), (11, 81), top_speed=gearing.Levels(96, 96.9, 0.25, 0.25)),
        gearing.pairs([11], [82])[0],
        gearing.LapModel(),
        *gearing.check_list(),
    ]
    for result in results:
        assert json.loads(json.dumps(result.to_dict(), allow_nan=False))


def test_cautions_defer_and_mark_what_is_only_custom():
    text = " ".join(caution.text for caution in gearing.check_list())
    assert "manual" in gearing.FIRST
    assert "class rules" in gearing.FIRST
    assert "qualified people" in gearing.FIRST
    for must in (
        "Engine off",
        "turning chain",
        "guard refitted",
        "torque",
        "rotation arrows",
        "first laps",
        "child",
    ):
        assert must in text
    custom = [caution for caution in gearing.check_list() if caution.common_practice]
    assert custom
    assert all("ommon practice" in caution.text for caution in custom)
    assert {caution.key for caution in gearing.on_track_list()} >= {"call_off", "adult"}
    keys = [caution.key for caution in gearing.check_list()]
    assert len(keys) == len(set(keys))
