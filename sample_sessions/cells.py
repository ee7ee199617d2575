"""How the invented files print times, clocks and numbers."""


def seconds(ms: int, mark: str = ".") -> str:
    """51.234"""
    return f"{ms // 1000}{mark}{ms % 1000:03d}"


def minutes(ms: int, mark: str = ".") -> str:
    """0:51.234"""
    return f"{ms // 60_000}:{ms % 60_000 // 1000:02d}{mark}{ms % 1000:03d}"


def clock(ms: int, mark: str | None = ".") -> str:
    """10:03:41.234, or whole seconds (cut off, not rounded) if there is no mark."""
    total = ms // 1000
    text = f"{total // 3600:02d}:{total // 60 % 60:02d}:{total % 60:02d}"
    return text if mark is None else f"{text}{mark}{ms % 1000:03d}"


def number(value: float, mark: str = ".") -> str:
    """97.4"""
    return f"{value:.1f}".replace(".", mark)
