"""Which forms may be larger than a note, and by how much."""

from flask import request

from kb.storage.pictures import LARGEST_FILE

MOST_PICTURES_AT_ONCE = 10  # chosen by us: what is sent at once lies in memory
# Bytes; chosen by us: some 10,000 rows, a minute's work; `benchlore import` takes more.
LARGEST_TABLE = 5_000_000
LARGEST = {
    "pictures_page.add": MOST_PICTURES_AT_ONCE * LARGEST_FILE,
    "new_page.create": MOST_PICTURES_AT_ONCE * LARGEST_FILE,
    "import_page.upload": LARGEST_TABLE,
}


def take_large_uploads() -> None:
    """Let these forms be as large as they may be; runs before anything reads the form."""
    if request.endpoint in LARGEST:
        request.max_content_length = LARGEST[request.endpoint]
