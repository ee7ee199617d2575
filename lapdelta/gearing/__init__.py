"""Gearing: ratio and speed, chain geometry, did the engine pull it, expected shift, sprocket box.

Pure functions; units are in the names. Every wrong input raises ``GearingError`` (a ``ValueError``)
that names the value and its range.
"""

from lapdelta.gearing.box import Part, PartWear, Run, box_wear, cost_per_100_laps, distance_km
from lapdelta.gearing.chain import (
    centre_distance_mm,
    chain_length_pitches,
    even_links,
    needs_offset_link,
    pitch_diameter_mm,
    shortest_centre_mm,
    span_mm,
)
from lapdelta.gearing.checks import GearingError
from lapdelta.gearing.expectation import Expectation, expected_shift
from lapdelta.gearing.fit import (
    ChainReach,
    Clearance,
    Slide,
    chain_reach,
    engine_slide,
    ground_clearance,
    links_that_fit,
)
from lapdelta.gearing.lap_model import LapModel, model_laps
from lapdelta.gearing.pulled import Levels, Pulled, Share, pull_verdict, pulled
from lapdelta.gearing.ratio import Pair, nearest_pair, pairs, percent_per_tooth, ratio, rpm_at, speed_kmh
from lapdelta.gearing.running import (
    Alignment,
    ChainWear,
    Slack,
    alignment,
    chain_wear,
    chordal_speed_variation,
    extra_length_mm,
    outside_diameter_mm,
    sag_mm,
    slack,
    wear_limit_percent,
)
from lapdelta.gearing.safety import CAUTIONS, FIRST, Caution, check_list, on_track_list

__all__ = [
    "CAUTIONS",
    "FIRST",
    "Alignment",
    "Caution",
    "ChainReach",
    "ChainWear",
    "Clearance",
    "Expectation",
    "GearingError",
    "LapModel",
    "Levels",
    "Pair",
    "Part",
    "PartWear",
    "Pulled",
    "Run",
    "Share",
    "Slack",
    "Slide",
    "alignment",
    "box_wear",
    "centre_distance_mm",
    "chain_length_pitches",
    "chain_reach",
    "chain_wear",
    "check_list",
    "chordal_speed_variation",
    "cost_per_100_laps",
    "distance_km",
    "engine_slide",
    "even_links",
    "expected_shift",
    "extra_length_mm",
    "ground_clearance",
    "links_that_fit",
    "model_laps",
    "nearest_pair",
    "needs_offset_link",
    "on_track_list",
    "outside_diameter_mm",
    "pairs",
    "percent_per_tooth",
    "pitch_diameter_mm",
    "pull_verdict",
    "pulled",
    "ratio",
    "rpm_at",
    "sag_mm",
    "shortest_centre_mm",
    "slack",
    "span_mm",
    "speed_kmh",
    "wear_limit_percent",
]
