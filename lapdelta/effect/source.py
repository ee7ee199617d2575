"""Which pace was used and why, and whether more laps would help: the sentences."""

from lapdelta.effect.arrays import LapCube
from lapdelta.effect.sharp import CLOCKS, LAPS, SECTORS, SECTORS_AND_CLOCKS, Source, sectors_add_up

#: Below and above these shares of lap noise the sentence says that only sessions, or that more laps, help.
FEW, MANY = 0.25, 0.5

_HOW = {
    SECTORS_AND_CLOCKS: "everybody's clock shows the traffic, and the clean sectors of a spoiled lap are kept.",
    SECTORS: "the clean sectors of a spoiled lap are kept.",
    CLOCKS: "everybody's clock shows the traffic.",
    LAPS: "the quickest 70 % of the laps left after setting slow ones aside.",
}


def why_this_pace(cube: LapCube, source: Source) -> str:
    """The pace used, what it rests on, and what the file lacks for a sharper one."""
    text = f"Pace from {source}: {_HOW[source]}"
    missing: list[str] = []
    if source in (CLOCKS, LAPS):
        missing.append(_about_sectors(cube))
    if source in (SECTORS, LAPS):
        missing.append(
            "no clock that all karts share"
            if cube.clock_s is None
            else "the clocks do not fit the laps to a tenth or two"
        )
    return f"{text} Sharper is not possible: {' and '.join(missing)}." if missing else text


def _about_sectors(cube: LapCube) -> str:
    if not cube.sectors_s.shape[-1]:
        return "no sectors"
    return "too many laps lack sectors" if sectors_add_up(cube) else "sectors do not add up to the lap"


def about_lap_noise(share: float) -> str:
    """How much of the uncertainty laps can average away; ``share`` 0..1."""
    text = f"{round(100 * share)} % of the uncertainty is lap noise, the rest changes from session to session"
    if share >= MANY:
        return f"{text}: more laps a session help."
    if share >= FEW:
        return f"{text}: more laps a session help a little, more sessions or days help more."
    return f"{text}: more laps hardly help, only more sessions, more days or a bigger step do."
