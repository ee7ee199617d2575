"""Every word that a user reads about a finding: one table of probability words, one catalogue a language."""

from lapdelta.words.amounts import PARTS_OF_A_SESSION as PARTS_OF_A_SESSION
from lapdelta.words.amounts import VERDICT_KEYS as VERDICT_KEYS
from lapdelta.words.amounts import amount as amount
from lapdelta.words.amounts import direction as direction
from lapdelta.words.amounts import measure_kind as measure_kind
from lapdelta.words.amounts import measure_name as measure_name
from lapdelta.words.amounts import number_text as number_text
from lapdelta.words.amounts import sector_label as sector_label
from lapdelta.words.amounts import side_text as side_text
from lapdelta.words.amounts import unit_text as unit_text
from lapdelta.words.amounts import verdict_text as verdict_text
from lapdelta.words.catalogue import LANGUAGES as LANGUAGES
from lapdelta.words.catalogue import join as join
from lapdelta.words.catalogue import number_word as number_word
from lapdelta.words.catalogue import phrase as phrase
from lapdelta.words.catalogue import plural as plural
from lapdelta.words.counts import moved_as_much as moved_as_much
from lapdelta.words.counts import moved_phrase as moved_phrase
from lapdelta.words.scale import SCALE as SCALE
from lapdelta.words.scale import TWENTY as TWENTY
from lapdelta.words.scale import Step as Step
from lapdelta.words.scale import dots_below as dots_below
from lapdelta.words.scale import in_twenty as in_twenty
from lapdelta.words.scale import probability_word as probability_word
from lapdelta.words.scale import step_for as step_for
