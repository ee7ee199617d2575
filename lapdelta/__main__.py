"""``python -m lapdelta`` is the ``lapdelta`` command."""

from lapdelta.cli import main

if __name__ == "__main__":
    main()
