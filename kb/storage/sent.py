"""Remember what a write-up that may be sent twice was saved as, so that the repeat makes no second case.

Each form carries a random key. `.benchlore/sent/KEY` holds the case number drawn for it and a digest of what
was typed: another text is another case. It is written before the note, so that a repeat completes a crash.
"""

import contextlib
import hashlib
import os
import re

from kb.files import read_file
from kb.notebook import Notebook
from kb.notes.case import CaseNote, is_case_id
from kb.storage import saving

# Chosen by us: months of write-ups, and no folder that grows for ever (test_sent).
MOST_KEPT = 1_000
_KEY = re.compile(r"[0-9A-Za-z_-]{16,64}")


def is_key(text: str) -> bool:
    """Tell whether a text may be a form's key."""
    return bool(_KEY.fullmatch(text))


def case_sent(nb: Notebook, key: str, note: CaseNote) -> str:
    """Return the case number that was drawn for this note under this key; "" when none was."""
    if not is_key(key):
        return ""
    try:
        text = read_file(nb.state_dir / "sent" / key, most=200).decode("ascii", errors="replace")
    except OSError:
        return ""
    case_id, _, digest = text.strip().partition(" ")
    return case_id if is_case_id(case_id) and digest == _digest(note) else ""


def remember_sent(nb: Notebook, key: str, note: CaseNote) -> None:
    """Store the number drawn for a note. Needs the lock. Raises: WriteError."""
    folder = nb.state_dir / "sent"
    saving.replace_file(folder / key, f"{note.case} {_digest(note)}\n".encode("ascii"))
    kept = sorted(os.scandir(folder), key=lambda entry: entry.stat(follow_symlinks=False).st_mtime_ns)
    for entry in kept[:-MOST_KEPT]:
        with contextlib.suppress(OSError):
            os.unlink(entry.path)


def _digest(note: CaseNote) -> str:
    text = note.model_copy(update={"case": "20000101-0000"}).as_text()
    return hashlib.sha256(text.encode("utf-8", errors="surrogatepass")).hexdigest()
