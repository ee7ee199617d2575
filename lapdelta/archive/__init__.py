"""Keep: an archive of laps, setups and events in Delta tables, with a history and a way back."""

from lapdelta.archive.archive import Archive as Archive
from lapdelta.archive.backup import restore as restore
from lapdelta.archive.export import TABLES as TABLES
from lapdelta.archive.export import export as export
from lapdelta.archive.imports import Added as Added
from lapdelta.archive.imports import EventQuestion as EventQuestion
from lapdelta.archive.imports import KeptReading as KeptReading
from lapdelta.archive.imports import event_laps as event_laps
from lapdelta.archive.lock import ArchiveBusy as ArchiveBusy
from lapdelta.archive.merge import Merged as Merged
from lapdelta.archive.place import default_folder as default_folder
