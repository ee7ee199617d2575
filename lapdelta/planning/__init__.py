"""Planning the next test, before the day is spent on it."""
