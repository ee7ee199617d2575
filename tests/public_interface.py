"""What other programs can call or read, as lines of text: ``python tests/public_interface.py`` writes it down anew.

A change of a line needs a line in CHANGELOG.md that names the new fingerprint; a test holds that.
"""

import dataclasses
import hashlib
import inspect
from collections.abc import Iterator
from pathlib import Path

import click

import lapdelta
from lapdelta import tables
from lapdelta.cli.main import group

WRITTEN = Path(__file__).parent / "data" / "public_interface.txt"


def _signature(thing: object) -> str:
    """Names, kinds and defaults; annotations are for readers and type checkers."""
    signature = inspect.signature(thing)  # type: ignore[arg-type]
    bare = [p.replace(annotation=inspect.Parameter.empty) for p in signature.parameters.values()]
    return str(signature.replace(parameters=bare, return_annotation=inspect.Signature.empty))


def _class(name: str, kind: type) -> Iterator[str]:
    """Fields of a dataclass, then public methods and properties."""
    if dataclasses.is_dataclass(kind):
        for field in dataclasses.fields(kind):
            yield f"{name}.{field.name}"
    for member, value in sorted(vars(kind).items()):
        if member.startswith("_"):
            continue
        if isinstance(value, property):
            yield f"{name}.{member} (property)"
        elif isinstance(value, staticmethod | classmethod):
            yield f"{name}.{member}{_signature(value.__func__)} ({type(value).__name__})"
        elif inspect.isfunction(value):
            yield f"{name}.{member}{_signature(value)}"


def _library() -> Iterator[str]:
    for name in lapdelta.__all__:
        value = getattr(lapdelta, name)
        if inspect.isclass(value):
            yield f"{name}({', '.join(base.__name__ for base in value.__bases__)})"
            yield from _class(name, value)
        elif inspect.ismodule(value):
            for inner in value.__all__:
                part = getattr(value, inner)
                yield f"{name}.{inner}{_signature(part) if inspect.isfunction(part) else ''}"
        else:
            yield f"{name}{_signature(value)}"


def _tables() -> Iterator[str]:
    for name in sorted(vars(tables)):
        schema = getattr(tables, name)
        if name.isupper() and isinstance(schema, dict):
            for column, kind in schema.items():
                yield f"table {name}.{column}: {kind}"


def _options(command: click.Command) -> str:
    said = [
        " ".join(one.opts + one.secondary_opts) if isinstance(one, click.Option) else f"<{one.name}>"
        for one in command.params
    ]
    return "; ".join(said)


def _command(name: str, command: click.Command) -> Iterator[str]:
    yield f"{name}: {_options(command)}"
    if isinstance(command, click.Group):
        context = click.Context(command)
        for inner in sorted(command.list_commands(context)):
            one = command.get_command(context, inner)
            assert one is not None
            yield from _command(f"{name} {inner}", one)


def described() -> str:
    """Every line of the public interface as it is now."""
    return "".join(f"{line}\n" for line in [*_library(), *_tables(), *_command("lapdelta", group)])


def fingerprint(text: str) -> str:
    """Eight hexadecimal digits that change with any line."""
    return hashlib.sha256(text.encode()).hexdigest()[:8]


if __name__ == "__main__":
    text = described()
    WRITTEN.write_text(text, encoding="utf-8")
    print(f"CHANGELOG.md needs a line that says what changed and ends with: (interface {fingerprint(text)})")
