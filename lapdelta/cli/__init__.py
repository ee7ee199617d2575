"""The command line: one thin function a command, each over one library call. Exit status: see ``outcome``."""

from lapdelta.cli.main import main

__all__ = ["main"]
