"""Read timing files with what was answered before: a kept file's recipe serves every file of its kind."""

from typing import TYPE_CHECKING

from lapdelta.reading import Reading, Recipe, read_timing

if TYPE_CHECKING:
    from lapdelta.archive import Archive


def read_with_memory(
    path_or_bytes: str | bytes,
    archive: "Archive",
    name: str | None = None,
    recipe: str | None = None,
    answers: dict[str, str] | None = None,
) -> Reading:
    """``read_timing``, and once more with what was answered for kept files of the same kind if questions stay open.

    Args:
        path_or_bytes: as for ``read_timing``.
        archive: its kept readings hold the recipes.
        name: file name to use for bytes.
        recipe: a recipe that was asked for; then nothing else is tried.
        answers: answers given now; they go before those of the recipe.

    Raises:
        UnreadableFile: as ``read_timing``.
        ValueError: an unknown answer.
    """
    reading = read_timing(path_or_bytes, name=name, recipe=recipe, answers=answers)
    if recipe is not None or not reading.questions:
        return reading
    again = read_timing(path_or_bytes, name=name, recipe=remembered(archive), answers=answers)
    # An answer may bring up the next question, so their number need not fall.
    answered = {one.key for one in reading.questions} - {one.key for one in again.questions}
    return again if answered else reading


def remembered(archive: "Archive") -> Recipe:
    """What was ever answered of the kept files, by header and by file; the newest answer counts."""
    by_header: dict[str, dict[str, str]] = {}
    by_file: dict[str, dict[str, str]] = {}
    texts: list[str] = archive.readings["recipe"].to_list()
    for text in texts:
        recipe = Recipe.from_toml(text)
        for known, new in ((by_header, recipe.by_header), (by_file, recipe.by_file)):
            for key, answers in new.items():
                known[key] = {**known.get(key, {}), **answers}
    return Recipe(by_header, by_file)
