"""The store of rendered steps: sound that was made once and may be needed again."""

from sweeper.render.store.entry import Entry, entry_bytes, open_entry
from sweeper.render.store.limit import default_limit_bytes, parse_limit
from sweeper.render.store.place import default_folder
from sweeper.render.store.store import Store
from sweeper.render.store.writing import EntryWriter, write_entry

__all__ = [
    "Entry",
    "EntryWriter",
    "Store",
    "default_folder",
    "default_limit_bytes",
    "entry_bytes",
    "open_entry",
    "parse_limit",
    "write_entry",
]
