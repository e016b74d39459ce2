"""Photographs of a case, in pictures/CASE/. Each is redrawn, so that no location or other data is kept."""

import io
import re
import warnings
from collections.abc import Mapping, Sequence
from pathlib import Path

from PIL import Image, ImageOps, UnidentifiedImageError

from kb.errors import NoteError, quoted
from kb.files import read_file
from kb.notebook import PICTURES, Notebook
from kb.notes.case import is_case_id
from kb.storage import saving

CAPTIONS = "captions.txt"  # one "01.jpg: what it shows" a line
KINDS = ("JPEG", "PNG", "WEBP")  # what may come; all are kept as JPEG
# All chosen by us; tests/kb/storage/test_pictures.py notices.
LARGEST_FILE = 25_000_000  # bytes; the best telephone cameras write half as much
MOST_PIXELS = 120_000_000  # take 360 MB while they are decoded
MOST_PICTURES = 40  # of one case
LONGEST_SIDE, THUMBNAIL_SIDE = 1600, 320  # pixels
LONGEST_CAPTION = 200  # characters
_NAME = re.compile(r"[0-9]{2}(?:\.original)?\.jpg")


def list_pictures(nb: Notebook, case_id: str) -> dict[str, str]:
    """Return the captions of a case's photographs by file name, sorted; "" for one without."""
    names = [each.name for each in _files(nb, case_id) if not each.is_symlink()]
    shown = [name for name in names if _NAME.fullmatch(name) and ".original" not in name]
    captions = _captions(nb, nb.root / PICTURES / case_id) if shown else {}
    return {name: captions.get(name, "") for name in shown}


def read_picture(nb: Notebook, case_id: str, name: str, *, small: bool = False) -> bytes | None:
    """Return the bytes of a photograph, of its thumbnail if small; None when there is no such photograph."""
    folder = _folder(nb, case_id)
    if folder is None or not _NAME.fullmatch(name):
        return None
    try:
        data = read_file(folder / name, within=nb.root, most=LARGEST_FILE)
        return _redrawn(name, data, THUMBNAIL_SIDE) if small else data
    except (OSError, NoteError):
        return None


def add_pictures(
    nb: Notebook, case_id: str, files: Sequence[tuple[str, bytes]], *, caption: str = "",
    keep_original: bool = False,
) -> list[str]:  # fmt: skip
    """Add photographs to a case and return the paths written, relative to the notebook.

    files: (name, bytes); the name is for messages only. caption: of all of them. keep_original: keep the full
    size, too. Raises: NoteError when one is no picture or too large, and then none is kept; WriteError.
    """
    caption = " ".join(caption.split())[:LONGEST_CAPTION]
    drawn = [(_redrawn(name, data, LONGEST_SIDE), name, data) for name, data in files]
    with saving.locked(nb):
        folder = _folder(nb, case_id)
        if folder is None or nb.case_path(case_id) is None:
            raise NoteError.of(PICTURES, quoted(case_id), "give a case that exists")
        taken = [int(name[:2]) for name in list_pictures(nb, case_id)]
        first = max(taken, default=0) + 1
        if len(taken) + len(drawn) > MOST_PICTURES or first + len(drawn) > 100:
            many = "more pictures than a case may have"
            raise NoteError.of(PICTURES, many, f"keep at most {MOST_PICTURES}")
        written = {f"{number:02d}.jpg": redrawn for number, (redrawn, *_) in enumerate(drawn, first)}
        for number, (_, name, data) in enumerate(drawn if keep_original else (), first):
            written[f"{number:02d}.original.jpg"] = _redrawn(name, data, None)
        saving.replace_files({folder / name: data for name, data in written.items()})
        _write_captions(nb, folder, dict.fromkeys(written, caption))
    return [f"{PICTURES}/{case_id}/{each}" for each in (*written, CAPTIONS)]


def remove_picture(nb: Notebook, case_id: str, name: str) -> list[str]:
    """Move one photograph aside, into .benchlore/removed/, and return the paths that changed."""
    folder = _folder(nb, case_id)
    if folder is None or not _NAME.fullmatch(name) or not (folder / name).is_file():
        raise NoteError.of(PICTURES, quoted(name), "give a picture that the case has")
    with saving.locked(nb):
        aside = nb.state_dir / "removed-pictures" / case_id
        moved = [each for each in (name, name.replace(".jpg", ".original.jpg")) if (folder / each).is_file()]
        for each in moved:
            saving.move_file(folder / each, aside / each)
        _write_captions(nb, folder, {name: ""})
    return [f"{PICTURES}/{case_id}/{each}" for each in (*moved, CAPTIONS)]


def picture_paths(nb: Notebook, case_id: str) -> list[str]:
    """Return every file among a case's photographs, originals and captions too, within the notebook."""
    return [f"{PICTURES}/{case_id}/{each.name}" for each in _files(nb, case_id)]


def _redrawn(name: str, data: bytes, side: int | None) -> bytes:
    """Return a picture as an upright JPEG without other data. side: its longest side at most, pixels."""
    if len(data) > LARGEST_FILE:
        found = f"{quoted(name)} is larger than {LARGEST_FILE // 1_000_000} MB"
        raise NoteError.of(PICTURES, found, "send a smaller picture")
    if not data:
        raise NoteError.of(PICTURES, f"{quoted(name)} is empty", "take it again")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # MOST_PIXELS is our own limit
            picture = Image.open(io.BytesIO(data), formats=KINDS)
        if picture.width * picture.height > MOST_PIXELS:
            raise Image.DecompressionBombError
        side = side or max(picture.size)
        picture.draft("RGB", (side, side))
        upright = ImageOps.exif_transpose(picture)
        upright.thumbnail((side, side))
        kept = Image.new("RGB", upright.size, "white")
        shown = upright.convert("RGBA")
        kept.paste(shown, mask=shown.getchannel("A"))
    except Image.DecompressionBombError as error:
        found = f"{quoted(name)} has more than {MOST_PIXELS // 1_000_000} million pixels"
        raise NoteError.of(PICTURES, found, "send a smaller one") from error
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError, EOFError) as error:
        found = f"{quoted(name)} is not a JPEG, PNG or WebP picture, or is cut off"
        raise NoteError.of(PICTURES, found, "send it as JPEG") from error
    buffer = io.BytesIO()
    kept.save(buffer, "JPEG", quality=85, optimize=True)
    return buffer.getvalue()


def _folder(nb: Notebook, case_id: str) -> Path | None:
    """Return the folder of a case's photographs; None when it is a link, or `case_id` is no case number."""
    folder = nb.root / PICTURES / case_id
    linked = folder.is_symlink() or folder.parent.is_symlink()
    return folder if is_case_id(case_id) and not linked else None


def _files(nb: Notebook, case_id: str) -> list[Path]:
    folder = _folder(nb, case_id) if (nb.root / PICTURES / case_id).exists() else None  # most have none
    return sorted(each for each in folder.glob("*") if each.is_file()) if folder else []


def _captions(nb: Notebook, folder: Path) -> dict[str, str]:
    try:
        text = read_file(folder / CAPTIONS, within=nb.root, most=100_000).decode("utf-8", errors="replace")
    except OSError:
        return {}
    pairs = (line.partition(":") for line in text.splitlines())
    return {name.strip(): caption.strip()[:LONGEST_CAPTION] for name, _, caption in pairs}


def _write_captions(nb: Notebook, folder: Path, changed: Mapping[str, str]) -> None:
    captions = {**_captions(nb, folder), **changed}.items()
    text = "".join(f"{name}: {caption}\n" for name, caption in sorted(captions) if caption)
    saving.replace_files({folder / CAPTIONS: text.encode("utf-8")})
