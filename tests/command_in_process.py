"""Run a command in this process: its exit status and what it printed; for tests of the command line."""

import contextlib
import io
import json
from dataclasses import dataclass

from lapdelta.cli.main import run


@dataclass(frozen=True)
class Done:
    """What a command did."""

    status: int
    out: str
    err: str

    @property
    def json(self):
        """The one JSON object on stdout."""
        lines = self.out.strip().splitlines()
        assert len(lines) == 1, self.out
        return json.loads(lines[0])


def command(*words):
    """Run ``lapdelta`` with these words."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = run([str(word) for word in words])
    return Done(status, out.getvalue(), err.getvalue())
