"""Seeded timing files of every dialect, language, clock form and layout, with the laps they hold."""

import random
from dataclasses import dataclass

#: Words of our own choosing per language: lap, lap time, sector, top speed, kart, driver, rpm.
HEADERS: dict[str, tuple[str, ...]] = {
    "en": ("Lap", "Lap time", "Sector {}", "Top speed", "Kart", "Driver", "RPM"),
    "de": ("Runde", "Rundenzeit", "Sektor {}", "Höchstgeschwindigkeit", "Kart", "Fahrer", "Drehzahl"),
    "fr": ("Tour", "Temps au tour", "Secteur {}", "Vitesse max", "Kart", "Pilote", "Régime max"),
    "it": ("Giro", "Tempo giro", "Settore {}", "Velocità massima", "Kart", "Pilota", "Giri motore"),
    "es": ("Vuelta", "Tiempo de vuelta", "Sector {}", "Velocidad máxima", "Kart", "Piloto", "RPM máx"),
    "pt": ("Volta", "Tempo de volta", "Setor {}", "Velocidade máxima", "Kart", "Piloto", "Rotação máxima"),
    "nl": ("Ronde", "Rondetijd", "Sector {}", "Topsnelheid", "Kart", "Rijder", "Toerental"),
    "pl": ("Okrążenie", "Czas okrążenia", "Sektor {}", "Prędkość maks", "Gokart", "Kierowca", "Obroty maks"),
    "cs": ("Kolo", "Čas kola", "Sektor {}", "Maximální rychlost", "Motokára", "Jezdec", "Otáčky max"),
    "sv": ("Varv", "Varvtid", "Sektor {}", "Toppfart", "Kart", "Förare", "Max varvtal"),
    "ja": ("ラップ", "ラップタイム", "セクター{}", "最高速", "カート", "ドライバー", "最高回転数"),
}
ENCODINGS = {"pl": ("utf-8", "cp1250"), "cs": ("utf-8", "cp1250"), "ja": ("utf-8", "cp932", "utf-16")}
CLOCKS = ("s", "m:ss", "00:m:ss", "prime", "dots", "m:ss:mmm", "letters", "ms", "unit", "iso", "day")
DELIMITERS = (",", ";", "\t", "|")
LAYOUTS = ("long", "block", "wide", "across")


@dataclass(frozen=True)
class Made:
    """A file, and its laps as (kart, driver, lap, lap time, sectors, speed, rpm)."""

    data: bytes
    laps: list[tuple[str, str | None, int, float, list[float], float | None, float | None]]
    what: str


def clock(seconds: float, form: str, mark: str) -> str:
    minutes, rest = divmod(round(seconds * 1000), 60000)
    whole, milli = divmod(rest, 1000)
    return {
        "s": f"{seconds:.3f}".replace(".", mark),
        "m:ss": f"{minutes}:{whole:02d}{mark}{milli:03d}",
        "00:m:ss": f"00:{minutes:02d}:{whole:02d}{mark}{milli:03d}",
        "prime": f"{minutes}'{whole:02d}\"{milli:03d}",
        "dots": f"{minutes}.{whole:02d}.{milli:03d}",
        "m:ss:mmm": f"{minutes}:{whole:02d}:{milli:03d}",
        "letters": f"{minutes}m {whole}{mark}{milli:03d}s",
        "ms": str(round(seconds * 1000)),
        "unit": f"{seconds:.3f} s".replace(".", mark),
        "iso": f"PT{minutes}M{whole}.{milli:03d}S",
        "day": f"{seconds / 86400:.12f}".replace(".", mark),
    }[form]


def make(seed: int) -> Made:
    """One file, all its choices drawn from ``seed``."""
    rng = random.Random(seed)
    language = rng.choice(list(HEADERS))
    delimiter, form, layout = rng.choice(DELIMITERS), rng.choice(CLOCKS), rng.choice(LAYOUTS)
    mark = "." if delimiter == "," else rng.choice(".,")
    encoding = rng.choice(ENCODINGS.get(language, ("utf-8", "utf-8-sig", "cp1252", "utf-16")))
    end = rng.choice(("\n", "\r\n", "\r"))
    sectors = rng.choice((0, 2, 3))
    cumulative = sectors > 0 and rng.random() < 0.4
    extras = layout not in ("wide", "across") and rng.random() < 0.6
    karts = rng.sample(["07", "7", "12", "12A", "NA", "101"], k=rng.randint(1, 4))
    laps: list[tuple[str, str | None, int, float, list[float], float | None, float | None]] = []
    for kart in karts:
        for lap in range(1, rng.randint(4, 9)):
            own = [round(rng.uniform(18, 22), 3) for _ in range(3)]
            total = round(sum(own), 3)
            parts = own if sectors == 3 else [own[0], round(own[1] + own[2], 3)] if sectors == 2 else []
            speed = round(rng.uniform(85, 105), 1) if extras else None
            rpm = float(rng.randint(12000, 15000)) if extras else None
            laps.append((kart, f"Driver {kart}", lap, total, parts, speed, rpm))
    if layout in ("wide", "across"):
        laps = [(kart, None, lap, total, [], None, None) for kart, _, lap, total, _, _, _ in laps]
    rows = _write(laps, HEADERS[language], layout, lambda s: clock(s, form, mark), cumulative, extras, mark)
    text = end.join(delimiter.join(_quote(cell, delimiter) for cell in row) for row in rows) + end
    what = f"{seed} {language} {delimiter!r} {form} {layout} {mark} {encoding} {end!r} {sectors} {cumulative} {extras}"
    if layout == "block":
        laps = [(kart, None, *rest) for kart, _, *rest in laps]
    return Made(text.encode(encoding), laps, what)


def _quote(cell: str, delimiter: str) -> str:
    return '"' + cell.replace('"', '""') + '"' if delimiter in cell or cell.startswith('"') else cell


def _write(laps, words, layout, show, cumulative, extras, mark):
    lap_word, time_word, sector_word, speed_word, kart_word, driver_word, rpm_word = words
    karts = list(dict.fromkeys(lap[0] for lap in laps))
    if layout == "wide":
        by = {(lap[0], lap[2]): lap[3] for lap in laps}
        longest = max(lap[2] for lap in laps)
        body = [
            [str(n), *(show(by[k, n]) if (k, n) in by else "" for k in karts)] for n in range(1, longest + 1)
        ]
        return [[lap_word, *(f"Kart {kart}" for kart in karts)], *body]
    if layout == "across":
        longest = max(lap[2] for lap in laps)
        by = {(lap[0], lap[2]): lap[3] for lap in laps}
        numbers = range(1, longest + 1)
        return [
            [kart_word, *(f"{lap_word} {n}" for n in numbers)],
            *([kart, *(show(by[kart, n]) if (kart, n) in by else "" for n in numbers)] for kart in karts),
        ]
    count = max((len(lap[4]) for lap in laps), default=0)
    head = [lap_word, time_word, *(sector_word.format(n + 1) for n in range(count))]
    head += [f"{speed_word} (km/h)", rpm_word] if extras else []
    rows = [] if layout == "block" else [[kart_word, driver_word, *head]]
    for kart in karts:
        if layout == "block":
            rows += [[f"Kart {kart}"], head]
        for lap in (lap for lap in laps if lap[0] == kart):
            parts = [sum(lap[4][: n + 1]) for n in range(count)] if cumulative else lap[4]
            cells = [str(lap[2]), show(lap[3]), *(show(part) for part in parts)]
            cells += [f"{lap[5]}".replace(".", mark), f"{lap[6]:.0f}"] if extras else []
            rows.append(cells if layout == "block" else [kart, str(lap[1]), *cells])
    return rows
