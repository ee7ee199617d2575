"""The statistics of a change: numpy arrays in, frozen dataclasses out. Knows no tables, files or screens."""
