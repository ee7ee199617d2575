"""The setup sheet: what was on the kart, and what differs between two sessions."""

from lapdelta.setups.compared import differences as differences
from lapdelta.setups.compared import in_units as in_units
from lapdelta.setups.compared import natural as natural
from lapdelta.setups.compared import proposed_questions as proposed_questions
from lapdelta.setups.compared import same_as_before as same_as_before
from lapdelta.setups.compared import say_difference as say_difference
from lapdelta.setups.fields import nearest_key as nearest_key
from lapdelta.setups.fields import other_pairs as other_pairs
from lapdelta.setups.sheet_csv import read_setup_csv as read_setup_csv
from lapdelta.setups.sheet_csv import write_setup_csv as write_setup_csv
from lapdelta.setups.typed import parse_setup as parse_setup
from lapdelta.setups.typed import setup_row as setup_row
from lapdelta.setups.typed import validate as validate
