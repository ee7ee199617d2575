"""English: every text about a finding, by key. Another language copies the keys and the placeholders.

Rules (tested): "would have been", never a claim of cause; no p-values; a word of chance never without
its number; kart numbers and "other karts", never names.
"""

from typing import Final

TEXTS: Final[dict[str, str]] = {
    # numbers and lists
    "number.words": (
        "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen "
        "fifteen sixteen seventeen eighteen nineteen twenty"
    ),
    "number.decimal_mark": ".",
    "number.thousands_mark": ",",
    "list.comma": ", ",
    "list.nouns": "small",
    "list.and": "{first} and {last}",
    # chance: one word for each step of the scale
    "chance.almost_certain": "almost certain",
    "chance.very_likely": "very likely",
    "chance.likely": "likely",
    "chance.as_likely_as_not": "about as likely as not",
    "chance.unlikely": "unlikely",
    "chance.very_unlikely": "very unlikely",
    "chance.almost_certainly_not": "almost certainly not so",
    "chance.count": "{n} in 20",
    "chance.more_than": "more than {n} in 20",
    "chance.less_than": "less than {n} in 20",
    # units, directions, places
    "unit.lap": "s",
    "unit.sector": "s",
    "unit.speed": "km/h",
    "unit.rpm": "rpm",
    "direction.time.minus": "faster",
    "direction.time.plus": "slower",
    "direction.more.minus": "lower",
    "direction.more.plus": "higher",
    "sector.numbered": "sector {n}",
    "sector.rest": "the part of the lap outside the sectors",
    "measure.early_laps": "the early laps",
    "measure.late_laps": "the late laps",
    "measure.lap": "lap time",
    "measure.speed": "top speed",
    "measure.rpm": "peak rpm",
    # verdict as a word on its own
    "verdict.faster": "faster",
    "verdict.slower": "slower",
    "verdict.higher": "higher",
    "verdict.lower": "lower",
    "verdict.none": "no worthwhile difference",
    "verdict.open": "not settled",
    "verdict.unknown": "cannot be told",
    # what was changed: the subject of the headline
    "subject.teeth.fewer.one": "One tooth fewer on the {sprocket}",
    "subject.teeth.fewer.many": "{count} teeth fewer on the {sprocket}",
    "subject.teeth.more.one": "One tooth more on the {sprocket}",
    "subject.teeth.more.many": "{count} teeth more on the {sprocket}",
    "subject.both_sprockets": "{first}, {second}",
    "subject.from_to": "{item} from {before} to {after}",
    "subject.with_others.one": "{subject}, together with {n} other change",
    "subject.with_others.many": "{subject}, together with {n} other changes",
    "subject.sessions": "{after} against {before}",
    "sprocket.axle_teeth": "axle",
    "sprocket.engine_teeth": "engine sprocket",
    "item.engine_teeth": "Engine sprocket teeth",
    "item.axle_teeth": "Axle sprocket teeth",
    "item.chain_pitch_mm": "Chain pitch, mm,",
    "item.chain_links": "Chain links",
    "item.engine_part": "Engine sprocket fitted",
    "item.axle_part": "Axle sprocket fitted",
    "item.chain_part": "Chain fitted",
    "item.tyre_set": "Tyre set",
    "item.tyre_laps": "Laps on the tyres",
    "item.pressure_front_left_bar": "Front left pressure, bar,",
    "item.pressure_front_right_bar": "Front right pressure, bar,",
    "item.pressure_rear_left_bar": "Rear left pressure, bar,",
    "item.pressure_rear_right_bar": "Rear right pressure, bar,",
    "item.pressure_front_bar": "Front pressure, bar,",
    "item.pressure_rear_bar": "Rear pressure, bar,",
    "item.total_weight_kg": "Total weight, kg,",
    "item.ballast_kg": "Ballast, kg,",
    "item.carburettor": "Carburettor",
    "item.fuel": "Fuel",
    "item.track_state": "Track state",
    "item.air_temperature_c": "Air temperature, C,",
    "item.track_temperature_c": "Track temperature, C,",
    "item.notes": "Notes",
    "item.other": "Another entry",
    # one side of an interval, and the estimate
    "side.lap": "{size} a lap {direction}",
    "side.sector": "{size} {direction}",
    "side.speed": "{size} {direction}",
    "side.rpm": "{size} {direction}",
    # headline
    "headline.clear.lap": (
        "{subject}: {size} a lap {direction} than it would have been, probably between {near} and {far}."
    ),
    "headline.clear.sector": (
        "{subject}: {size} {direction} in {place} than it would have been, probably between {near} and {far}."
    ),
    "headline.clear.speed": (
        "{subject}: top speed {size} {direction} than it would have been, probably between {near} and {far}."
    ),
    "headline.clear.rpm": (
        "{subject}: peak rpm {bare} {direction} than it would have been, probably between {near} and "
        "{far_bare}."
    ),
    "headline.none": (
        "{subject}: no worthwhile difference{place}. Probably between {low} and {high} than it would "
        "have been."
    ),
    "headline.open": (
        "{subject}: not settled{place}. It may have been anything between {low} and {high} than it "
        "would have been."
    ),
    "headline.unknown": "{subject}: cannot be told from these sessions{place}.",
    "place.lap": "",
    "place.sector": " in {place}",
    "place.speed": " in top speed",
    "place.rpm": " in peak rpm",
    # the chances, in the same sentence as their numbers
    "say.probably": "Probably means: in twenty days like this one the range misses the true change {misses}.",
    "say.range": "In twenty days like this one such a range misses the true change {misses}.",
    "say.misses.none": "less than once",
    "say.misses.one": "about once",
    "say.misses.many": "about {n} times",
    "say.chance.better": "That it was {direction} at all is {word} ({number}).",
    "say.chance.worthwhile": (
        "That it was {direction} by more than the {margin} worth having is {word} ({number})."
    ),
    "say.open.smallest": (
        "All that can be claimed from these laps: it moved by less than {smallest} either way."
    ),
    "say.open.margin": "Worth having was set at {margin}; the range is {width} to each side of the middle.",
    "say.none.margin": (
        "Any change is very likely (19 in 20) less than the {margin} that was set as worth having."
    ),
    "say.unknown.no_measure": "There is no {measure}, or hardly any, in the timing of these sessions.",
    "say.unknown.reason": "Why: {reason}",
    "say.placebo.none": "None of the {total} other karts moved as much without a known change.",
    "say.placebo.one": "{n} of the {total} other karts moved as much without a known change.",
    "say.placebo.all": "All {total} other karts moved as much without a known change.",
    "say.placebo.many": "{n} of the {total} other karts moved as much without a known change.",
    "say.placebo.only_none": "The one other kart did not move as much without a known change.",
    "say.placebo.only_one": "The one other kart moved as much without a known change.",
    "say.false_calls": "Of twenty questions about changes that did nothing, about {count} will look real.",
    "say.tipping.hour": (
        "The old and the new setting were not run in turns: if the driver alone got {size} an hour "
        "{direction} than the others, that would explain it without the change."
    ),
    "say.tipping.session": (
        "The old and the new setting were not run in turns: if the driver alone got {size} a session "
        "{direction} than the others, that would explain it without the change."
    ),
    # flags
    "flag.less_than_worthwhile": (
        "It is there but small: very likely (19 in 20) less than the {margin} that was set as worth having."
    ),
    "flag.bundle": "Not the only thing that changed ({items}): the answer is about all of it together.",
    "flag.bundle.all": "More than one thing changed ({items}): the answer is about all of it together.",
    "flag.bundle.bare": "Not the only thing that changed: the answer is about all of it together.",
    "flag.traffic_differed": "Traffic differed: far more laps were slowed in one setting than in the other.",
    "flag.part_is_consistency": "Part of it is consistency: the laps also lay closer together, or further apart.",
    "flag.few_other_karts": "Few other karts to compare with, so the range is wide.",
    "flag.rests_on_history": "The range also rests on what this kart did on other days.",
    "flag.rests_on_other_steps": (
        "The range also rests on what the few other karts did between the day's other sessions."
    ),
    "flag.history_left_out": "This day did not look like this kart's other days, so those were left out.",
    "flag.own_progress": "The driver's own progress over the day could look like this change.",
    "flag.session_left_out": "A session on a different track state was left out.",
    "flag.track_state_doubtful": "The track state of a session is doubtful.",
    "flag.hands_used": "Laps were set aside or put back by hand.",
    # what to do now
    "now.keep": (
        "Keep the new setting for now, and go back to the old one for a session on another day as a check."
    ),
    "now.keep.blocked": (
        "Keep the new setting for now; before money is spent run one more session on the old setting "
        "and one on the new."
    ),
    "now.back": "Go back to the old setting.",
    "now.small": "Choose by wear, cost and what the driver likes: the clock gives no reason worth having.",
    "now.other_measure": "Look at the lap time before deciding: {measure} alone does not make a lap.",
    "now.open": "Do not decide on this alone.",
    "now.open.order": "Run old, new, new, old on one day, with at least eight laps in each session.",
    "now.open.sessions": (
        "To see a change as small as {margin} takes about {factor} times as many sessions like these."
    ),
    "now.open.hopeless": (
        "A change as small as {margin} cannot be seen with this few sessions: try a bigger step, or "
        "join several days."
    ),
    "now.cure.both": "Put each session in one list only: with the old setting or with the new one.",
    "now.cure.no_measure": "Ask about the lap time, or bring in timing that holds {measure}.",
    "now.cure.no_before": (
        "Choose a session on the old setting in which this kart has at least three clean laps."
    ),
    "now.cure.no_after": (
        "Choose a session on the new setting in which this kart has at least three clean laps."
    ),
    "now.cure.no_others": (
        "Bring in the timing of the whole session with all karts, or run old, new, new, old and one "
        "more, and bring in this kart's other days."
    ),
    "now.cure.few_others": (
        "Bring in the timing of all karts of these sessions, or run old, new, new, old: in turns "
        "fewer other karts are enough."
    ),
    "now.cure.any": (
        "Run old, new, new, old on one day with at least eight laps each, and bring in the timing of "
        "all karts."
    ),
    "caution.sprockets": (
        "Sprockets and chain: engine off and cool, guards and all fasteners back on, and only what "
        "the maker's manual and the class rules allow."
    ),
    "caution.track": "Test only on a track and at times where it is allowed, and as the officials say.",
    # for the driver
    "driver.faster": "With the change the kart was about {size} a lap faster than it would have been.",
    "driver.slower": "With the change the kart was about {size} a lap slower than it would have been.",
    "driver.moved.sector": (
        "With the change the kart was about {size} {direction} in {place} than it would have been."
    ),
    "driver.moved.more": "With the change {measure} was about {size} {direction} than it would have been.",
    "driver.none": "With the change the kart did not get faster or slower by enough to matter.",
    "driver.none.more": "With the change {measure} did not move by enough to matter.",
    "driver.open": "We cannot say yet whether the change made a difference.",
    "driver.unknown": "These sessions cannot tell whether the change made a difference.",
    "driver.dots": "Count the dots: {n} of 20 say {direction}.",
    "driver.choose": "Take the one that you like better.",
    "driver.small": "That is too little to matter: less than {margin}.",
    "driver.try": "Next time we drive old, new, new, old and look again.",
    # pictures
    "dots.title": "{n} of 20 equally likely answers say {direction}",
    "dots.title.even": "As many answers say {minus} as {plus}: 10 of 20 each",
    "dots.title.none": "No picture: the change cannot be told",
    "dots.axis.lap": "Change in lap time, s (minus = faster)",
    "dots.axis.sector": "Change in {place}, s (minus = faster)",
    "dots.axis.speed": "Change in top speed, {unit} (plus = higher)",
    "dots.axis.rpm": "Change in peak rpm, 1/min (plus = higher)",
    "change.axis.lap": "Change, s (minus = faster)",
    "change.axis.sector": "Change, s (minus = faster)",
    "change.axis.speed": "Change, {unit} (plus = higher)",
    "change.axis.rpm": "Change, 1/min (plus = higher)",
    "dots.side": "{direction}: {n} of 20",
    "dots.filled": "Filled: beyond the {margin} worth having (dashed lines).",
    "dots.beyond.one": "1 dot lies beyond the edge.",
    "dots.beyond.many": "{n} dots lie beyond the edge.",
    "dots.alt": (
        "Dot picture of the change in {measure}: 20 equally likely answers, {minus_n} {minus} and "
        "{plus_n} {plus}, {worth_n} of them by more than {margin}; {range}."
    ),
    "dots.range": "the range is {low} to {high}",
    "sessions.title.moved": "{who} against the other karts: {verdict}",
    "sessions.title.clear.lap": "Against the other karts, {who} was {size} {direction} with the new setting",
    "sessions.title.clear.sector": (
        "Against the other karts, {who} was {size} {direction} in {measure} with the new setting"
    ),
    "sessions.title.clear.more": (
        "Against the other karts, the {measure} of {who} was {size} {direction} with the new setting"
    ),
    "sessions.axis.x": "Session, in the order driven",
    "sessions.axis.y.time": "Against its own usual pace, s (minus = faster)",
    "sessions.axis.y.speed": "Against its own usual top speed, {unit}",
    "sessions.axis.y.rpm": "Against its own usual peak rpm, 1/min",
    "sessions.before": "{who}, old setting",
    "sessions.after": "{who}, new setting",
    "sessions.other_setup": "{who}, another setting",
    "sessions.note": "Rings: other karts. Bars: what the track did for all of them.",
    "sessions.alt": "Dot chart by session: {points} of {who} beside {karts} other karts. {finding}",
    "placebo.title.none": "None of {total} other karts moved as much without a known change",
    "placebo.title.one": "1 of {total} other karts moved as much without a known change",
    "placebo.title.all": "All {total} other karts moved as much without a known change",
    "placebo.title.many": "{n} of {total} other karts moved as much without a known change",
    "placebo.title.only_none": "The one other kart did not move as much without a known change",
    "placebo.title.only_one": "The one other kart moved as much without a known change",
    "placebo.title.unknown": "How the other karts moved; ours cannot be told",
    "placebo.title.empty": "No other karts to compare with",
    "placebo.ours": "{who}",
    "placebo.others": "another kart, no known change",
    "placebo.unknown": "which cannot be told",
    "placebo.alt": (
        "Dot chart: the change of {who}, {ours}, beside the same difference in {total} other karts, "
        "which had no known change. {title}."
    ),
    # the page to share
    "page.title": "{who}: did it help?",
    "page.kart": "kart {kart}",
    "page.another_kart": "another kart",
    "page.for_driver": "For the driver",
    "page.how_sure": "How sure",
    "page.why_not": "Why it cannot be told",
    "page.now": "What to do now",
    "page.watch": "Keep in mind",
    "page.laps": (
        "Laps used: {kept} of {laps}. Sessions with the old setting: {before}; with the new: {after}."
    ),
    "page.event": "Event: {event}",
    "page.repeat": "lapdelta {version}; data {fingerprint}. Change = after minus before.",
}
