"""German: the same keys and placeholders as English (tested), for an adult who says du to the driver only."""

from typing import Final

TEXTS: Final[dict[str, str]] = {
    # numbers and lists
    "number.words": (
        "null einer zwei drei vier fünf sechs sieben acht neun zehn elf zwölf dreizehn vierzehn "
        "fünfzehn sechzehn siebzehn achtzehn neunzehn zwanzig"
    ),
    "number.decimal_mark": ",",
    "number.thousands_mark": ".",
    "list.comma": ", ",
    "list.nouns": "capital",
    "list.and": "{first} und {last}",
    # chance
    "chance.almost_certain": "so gut wie sicher",
    "chance.very_likely": "sehr wahrscheinlich",
    "chance.likely": "wahrscheinlich",
    "chance.as_likely_as_not": "etwa so wahrscheinlich wie das Gegenteil",
    "chance.unlikely": "unwahrscheinlich",
    "chance.very_unlikely": "sehr unwahrscheinlich",
    "chance.almost_certainly_not": "so gut wie ausgeschlossen",
    "chance.count": "{n} von 20",
    "chance.more_than": "mehr als {n} von 20",
    "chance.less_than": "weniger als {n} von 20",
    # units, directions, places
    "unit.lap": "s",
    "unit.sector": "s",
    "unit.speed": "km/h",
    "unit.rpm": "1/min",
    "direction.time.minus": "schneller",
    "direction.time.plus": "langsamer",
    "direction.more.minus": "niedriger",
    "direction.more.plus": "höher",
    "sector.numbered": "Sektor {n}",
    "sector.rest": "dem Teil der Runde außerhalb der Sektoren",
    "measure.early_laps": "den frühen Runden",
    "measure.late_laps": "den späten Runden",
    "measure.lap": "Rundenzeit",
    "measure.speed": "Höchstgeschwindigkeit",
    "measure.rpm": "Höchstdrehzahl",
    # verdict
    "verdict.faster": "schneller",
    "verdict.slower": "langsamer",
    "verdict.higher": "höher",
    "verdict.lower": "niedriger",
    "verdict.none": "kein lohnender Unterschied",
    "verdict.open": "nicht entschieden",
    "verdict.unknown": "nicht zu sagen",
    # what was changed
    "subject.teeth.fewer.one": "Ein Zahn weniger {sprocket}",
    "subject.teeth.fewer.many": "{count} Zähne weniger {sprocket}",
    "subject.teeth.more.one": "Ein Zahn mehr {sprocket}",
    "subject.teeth.more.many": "{count} Zähne mehr {sprocket}",
    "subject.both_sprockets": "{first}, {second}",
    "subject.from_to": "{item} von {before} auf {after}",
    "subject.with_others.one": "{subject}, zusammen mit {n} weiteren Änderung",
    "subject.with_others.many": "{subject}, zusammen mit {n} weiteren Änderungen",
    "subject.sessions": "{after} gegen {before}",
    "sprocket.axle_teeth": "auf der Achse",
    "sprocket.engine_teeth": "am Motorritzel",
    "item.engine_teeth": "Zähne am Motorritzel",
    "item.axle_teeth": "Zähne auf der Achse",
    "item.chain_pitch_mm": "Kettenteilung, mm,",
    "item.chain_links": "Kettenglieder",
    "item.engine_part": "Verbautes Motorritzel",
    "item.axle_part": "Verbautes Kettenrad",
    "item.chain_part": "Verbaute Kette",
    "item.tyre_set": "Reifensatz",
    "item.tyre_laps": "Runden auf den Reifen",
    "item.pressure_front_left_bar": "Druck vorn links, bar,",
    "item.pressure_front_right_bar": "Druck vorn rechts, bar,",
    "item.pressure_rear_left_bar": "Druck hinten links, bar,",
    "item.pressure_rear_right_bar": "Druck hinten rechts, bar,",
    "item.pressure_front_bar": "Druck vorn, bar,",
    "item.pressure_rear_bar": "Druck hinten, bar,",
    "item.total_weight_kg": "Gesamtgewicht, kg,",
    "item.ballast_kg": "Ballast, kg,",
    "item.carburettor": "Vergaser",
    "item.fuel": "Kraftstoff",
    "item.track_state": "Streckenzustand",
    "item.air_temperature_c": "Lufttemperatur, C,",
    "item.track_temperature_c": "Streckentemperatur, C,",
    "item.notes": "Notizen",
    "item.other": "Weiterer Eintrag",
    # sides
    "side.lap": "{size} je Runde {direction}",
    "side.sector": "{size} {direction}",
    "side.speed": "{size} {direction}",
    "side.rpm": "{size} {direction}",
    # headline
    "headline.clear.lap": (
        "{subject}: {size} je Runde {direction}, als es sonst gewesen wäre, vermutlich zwischen {near} und "
        "{far}."
    ),
    "headline.clear.sector": (
        "{subject}: in {place} {size} {direction}, als es sonst gewesen wäre, vermutlich zwischen {near} "
        "und {far}."
    ),
    "headline.clear.speed": (
        "{subject}: Höchstgeschwindigkeit {size} {direction}, als sie sonst gewesen wäre, vermutlich "
        "zwischen "
        "{near} und {far}."
    ),
    "headline.clear.rpm": (
        "{subject}: Höchstdrehzahl um {bare} {direction}, als sie sonst gewesen wäre, vermutlich zwischen "
        "{near} "
        "und {far_bare}."
    ),
    "headline.none": (
        "{subject}: kein lohnender Unterschied{place}. Vermutlich zwischen {low} und {high}, als es sonst "
        "gewesen wäre."
    ),
    "headline.open": (
        "{subject}: nicht entschieden{place}. Alles zwischen {low} und {high}, als es sonst gewesen wäre, "
        "ist möglich."
    ),
    "headline.unknown": "{subject}: aus diesen Fahrten nicht zu sagen{place}.",
    "place.lap": "",
    "place.sector": " in {place}",
    "place.speed": " bei der Höchstgeschwindigkeit",
    "place.rpm": " bei der Höchstdrehzahl",
    # chances
    "say.probably": (
        "Vermutlich heißt: an zwanzig solchen Tagen verfehlt der Bereich die wahre Änderung {misses}."
    ),
    "say.range": "An zwanzig solchen Tagen verfehlt ein solcher Bereich die wahre Änderung {misses}.",
    "say.misses.none": "weniger als einmal",
    "say.misses.one": "etwa einmal",
    "say.misses.many": "etwa {n}-mal",
    "say.chance.better": "Dass es überhaupt {direction} war, ist {word} ({number}).",
    "say.chance.worthwhile": (
        "Dass es um mehr als die lohnenden {margin} {direction} war, ist {word} ({number})."
    ),
    "say.open.smallest": (
        "Alles, was diese Runden hergeben: es änderte sich um weniger als {smallest} in die eine oder "
        "andere Richtung."
    ),
    "say.open.margin": "Als lohnend galten {margin}; der Bereich reicht {width} zu jeder Seite der Mitte.",
    "say.none.margin": (
        "Jede Änderung ist sehr wahrscheinlich (19 von 20) kleiner als die lohnenden {margin}."
    ),
    "say.unknown.no_measure": "In den Zeiten dieser Fahrten steht nichts oder kaum etwas dazu: {measure}.",
    "say.unknown.reason": "Warum: {reason}",
    "say.placebo.none": "Keines der {total} anderen Karts änderte sich ohne bekannten Umbau so stark.",
    "say.placebo.one": "{n} der {total} anderen Karts änderte sich ohne bekannten Umbau so stark.",
    "say.placebo.all": "Alle {total} anderen Karts änderten sich ohne bekannten Umbau so stark.",
    "say.placebo.many": "{n} der {total} anderen Karts änderten sich ohne bekannten Umbau so stark.",
    "say.placebo.only_none": "Das eine andere Kart änderte sich ohne bekannten Umbau nicht so stark.",
    "say.placebo.only_one": "Das eine andere Kart änderte sich ohne bekannten Umbau ebenso stark.",
    "say.false_calls": "Falsche Alarme auf zwanzig Fragen zu wirkungslosen Änderungen: etwa {count}.",
    "say.tipping.hour": (
        "Alt und neu wurden nicht im Wechsel gefahren: wurde allein der Fahrer je Stunde {size} "
        "{direction} als "
        "die anderen, erklärte das die Änderung auch ohne den Umbau."
    ),
    "say.tipping.session": (
        "Alt und neu wurden nicht im Wechsel gefahren: wurde allein der Fahrer je Fahrt {size} {direction} "
        "als "
        "die anderen, erklärte das die Änderung auch ohne den Umbau."
    ),
    # flags
    "flag.less_than_worthwhile": (
        "Vorhanden, aber klein: sehr wahrscheinlich (19 von 20) weniger als die lohnenden {margin}."
    ),
    "flag.bundle": "Nicht das Einzige, was anders war ({items}): die Antwort gilt für alles zusammen.",
    "flag.bundle.all": "Mehr als eines war anders ({items}): die Antwort gilt für alles zusammen.",
    "flag.bundle.bare": "Nicht das Einzige, was anders war: die Antwort gilt für alles zusammen.",
    "flag.traffic_differed": (
        "Der Verkehr war verschieden: mit einer Einstellung wurden weit mehr Runden aufgehalten."
    ),
    "flag.part_is_consistency": (
        "Ein Teil ist Gleichmäßigkeit: die Runden lagen auch enger beisammen oder weiter auseinander."
    ),
    "flag.few_other_karts": "Wenige andere Karts zum Vergleich, daher ist der Bereich weit.",
    "flag.rests_on_history": "Der Bereich stützt sich auch auf andere Tage dieses Karts.",
    "flag.rests_on_other_steps": (
        "Der Bereich stützt sich auch darauf, was die wenigen anderen Karts zwischen den übrigen Fahrten taten."
    ),
    "flag.history_left_out": (
        "Dieser Tag sah nicht aus wie die anderen Tage dieses Karts, sie blieben außen vor."
    ),
    "flag.own_progress": (
        "Der eigene Fortschritt des Fahrers über den Tag könnte so aussehen wie diese Änderung."
    ),
    "flag.session_left_out": "Eine Fahrt bei anderem Streckenzustand blieb außen vor.",
    "flag.track_state_doubtful": "Der Streckenzustand einer Fahrt ist zweifelhaft.",
    "flag.hands_used": "Runden wurden von Hand weggelegt oder zurückgeholt.",
    # what to do now
    "now.keep": (
        "Die neue Einstellung vorerst behalten und an einem anderen Tag zur Probe eine Fahrt mit der alten "
        "fahren."
    ),
    "now.keep.blocked": (
        "Die neue Einstellung vorerst behalten; bevor Geld ausgegeben wird, noch eine Fahrt mit der alten "
        "und "
        "eine mit der neuen fahren."
    ),
    "now.back": "Zurück zur alten Einstellung.",
    "now.small": (
        "Nach Verschleiß, Kosten und Gefühl des Fahrers wählen: die Uhr gibt keinen lohnenden Grund."
    ),
    "now.other_measure": "Vor der Entscheidung auf die Rundenzeit sehen: {measure} allein macht keine Runde.",
    "now.open": "Nicht hiernach allein entscheiden.",
    "now.open.order": "Alt, neu, neu, alt an einem Tag fahren, mindestens acht Runden je Fahrt.",
    "now.open.sessions": (
        "Um eine Änderung von nur {margin} zu sehen, braucht es etwa {factor}-mal so viele solche Fahrten."
    ),
    "now.open.hopeless": (
        "Eine Änderung von nur {margin} ist mit so wenigen Fahrten nicht zu sehen: einen größeren Schritt "
        "versuchen "
        "oder mehrere Tage zusammennehmen."
    ),
    "now.cure.both": "Jede Fahrt nur auf eine Seite legen: alte Einstellung oder neue.",
    "now.cure.no_measure": "Nach der Rundenzeit fragen, oder Zeiten einlesen, die das enthalten: {measure}.",
    "now.cure.no_before": (
        "Eine Fahrt mit der alten Einstellung wählen, in der dieses Kart mindestens drei saubere Runden hat."
    ),
    "now.cure.no_after": (
        "Eine Fahrt mit der neuen Einstellung wählen, in der dieses Kart mindestens drei saubere Runden hat."
    ),
    "now.cure.no_others": (
        "Die Zeiten der ganzen Fahrt mit allen Karts einlesen, oder alt, neu, neu, alt und noch eine "
        "fahren und "
        "die anderen Tage dieses Karts einlesen."
    ),
    "now.cure.few_others": (
        "Die Zeiten aller Karts dieser Fahrten einlesen, oder alt, neu, neu, alt fahren: im Wechsel genügen "
        "weniger andere Karts."
    ),
    "now.cure.any": (
        "Alt, neu, neu, alt an einem Tag fahren, mindestens acht Runden je Fahrt, und die Zeiten aller "
        "Karts einlesen."
    ),
    "caution.sprockets": (
        "Kettenräder und Kette: Motor aus und kalt, Schutz und alle Befestigungen wieder dran, und nur, was "
        "Herstellerhandbuch und Klassenregeln erlauben."
    ),
    "caution.track": "Nur testen, wo und wann es erlaubt ist, und so, wie die Streckenleitung es sagt.",
    # for the driver
    "driver.faster": "Mit dem Umbau war das Kart etwa {size} je Runde schneller, als es sonst gewesen wäre.",
    "driver.slower": "Mit dem Umbau war das Kart etwa {size} je Runde langsamer, als es sonst gewesen wäre.",
    "driver.moved.sector": (
        "Mit dem Umbau war das Kart in {place} etwa {size} {direction}, als es sonst gewesen wäre."
    ),
    "driver.moved.more": (
        "Mit dem Umbau war die {measure} etwa {size} {direction}, als sie sonst gewesen wäre."
    ),
    "driver.none": "Mit dem Umbau wurde das Kart nicht so viel schneller oder langsamer, dass es zählt.",
    "driver.none.more": "Mit dem Umbau änderte sich die {measure} nicht so viel, dass es zählt.",
    "driver.open": "Wir können noch nicht sagen, ob der Umbau etwas geändert hat.",
    "driver.unknown": "Diese Fahrten können nicht zeigen, ob der Umbau etwas geändert hat.",
    "driver.dots": "Zähl die Punkte: {n} von 20 sagen {direction}.",
    "driver.choose": "Nimm, was dir besser gefällt.",
    "driver.small": "Das ist zu wenig, als dass es zählt: weniger als {margin}.",
    "driver.try": "Nächstes Mal fahren wir alt, neu, neu, alt und schauen wieder nach.",
    # pictures
    "dots.title": "{n} von 20 gleich wahrscheinlichen Antworten sagen {direction}",
    "dots.title.even": "Ebenso viele Antworten sagen {minus} wie {plus}: je 10 von 20",
    "dots.title.none": "Kein Bild: die Änderung ist nicht zu sagen",
    "dots.axis.lap": "Änderung der Rundenzeit, s (minus = schneller)",
    "dots.axis.sector": "Änderung in {place}, s (minus = schneller)",
    "dots.axis.speed": "Änderung der Höchstgeschwindigkeit, {unit} (plus = höher)",
    "dots.axis.rpm": "Änderung der Höchstdrehzahl, 1/min (plus = höher)",
    "change.axis.lap": "Änderung, s (minus = schneller)",
    "change.axis.sector": "Änderung, s (minus = schneller)",
    "change.axis.speed": "Änderung, {unit} (plus = höher)",
    "change.axis.rpm": "Änderung, 1/min (plus = höher)",
    "dots.side": "{direction}: {n} von 20",
    "dots.filled": "Gefüllt: über die lohnenden {margin} hinaus (gestrichelte Linien).",
    "dots.beyond.one": "1 Punkt liegt jenseits des Randes.",
    "dots.beyond.many": "{n} Punkte liegen jenseits des Randes.",
    "dots.alt": (
        "Punktbild der Änderung, {measure}: 20 gleich wahrscheinliche Antworten, {minus_n} {minus} und "
        "{plus_n} {plus}, {worth_n} davon um mehr als {margin}; {range}."
    ),
    "dots.range": "der Bereich reicht von {low} bis {high}",
    "sessions.title.moved": "{who} gegen die anderen Karts: {verdict}",
    "sessions.title.clear.lap": "Gegen die anderen Karts war {who} mit der neuen Einstellung {size} {direction}",
    "sessions.title.clear.sector": (
        "Gegen die anderen Karts war {who} in {measure} mit der neuen Einstellung {size} {direction}"
    ),
    "sessions.title.clear.more": (
        "Gegen die anderen Karts war die {measure} von {who} mit der neuen Einstellung {size} {direction}"
    ),
    "sessions.axis.x": "Fahrt, in der gefahrenen Reihenfolge",
    "sessions.axis.y.time": "Gegen die eigene übliche Zeit, s (minus = schneller)",
    "sessions.axis.y.speed": "Gegen die eigene übliche Geschwindigkeit, {unit}",
    "sessions.axis.y.rpm": "Gegen die eigene übliche Drehzahl, 1/min",
    "sessions.before": "{who}, alte Einstellung",
    "sessions.after": "{who}, neue Einstellung",
    "sessions.other_setup": "{who}, andere Einstellung",
    "sessions.note": "Ringe: andere Karts. Striche: was die Strecke für alle tat.",
    "sessions.alt": "Punktbild nach Fahrten: {points} von {who} neben {karts} anderen Karts. {finding}",
    "placebo.title.none": "Keines von {total} anderen Karts änderte sich ohne bekannten Umbau so stark",
    "placebo.title.one": "1 von {total} anderen Karts änderte sich ohne bekannten Umbau so stark",
    "placebo.title.all": "Alle {total} anderen Karts änderten sich ohne bekannten Umbau so stark",
    "placebo.title.many": "{n} von {total} anderen Karts änderten sich ohne bekannten Umbau so stark",
    "placebo.title.only_none": "Das eine andere Kart änderte sich ohne bekannten Umbau nicht so stark",
    "placebo.title.only_one": "Das eine andere Kart änderte sich ohne bekannten Umbau ebenso stark",
    "placebo.title.unknown": "Wie sich die anderen Karts änderten; unseres ist nicht zu sagen",
    "placebo.title.empty": "Keine anderen Karts zum Vergleich",
    "placebo.ours": "{who}",
    "placebo.others": "ein anderes Kart, kein bekannter Umbau",
    "placebo.unknown": "die nicht zu sagen ist",
    "placebo.alt": (
        "Punktbild: die Änderung von {who}, {ours}, neben demselben Unterschied bei {total} anderen Karts "
        "ohne "
        "bekannten Umbau. {title}."
    ),
    # the page to share
    "page.title": "{who}: hat es geholfen?",
    "page.kart": "Kart {kart}",
    "page.another_kart": "ein anderes Kart",
    "page.for_driver": "Für den Fahrer",
    "page.how_sure": "Wie sicher",
    "page.why_not": "Warum es nicht zu sagen ist",
    "page.now": "Was jetzt zu tun ist",
    "page.watch": "Zu bedenken",
    "page.laps": (
        "Verwendete Runden: {kept} von {laps}. Fahrten mit der alten Einstellung: {before}; mit der neuen: "
        "{after}."
    ),
    "page.event": "Tag: {event}",
    "page.repeat": "lapdelta {version}; Daten {fingerprint}. Änderung = nachher minus vorher.",
}
