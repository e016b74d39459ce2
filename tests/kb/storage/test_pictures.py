"""Photographs: upright, without what they do not show, and nothing that only calls itself a picture."""

import io
import struct
import zlib
from pathlib import Path

import pytest
from PIL import Image

from kb.errors import NoteError
from kb.notebook import Notebook
from kb.storage import pictures
from kb.storage.pictures import (
    LONGEST_SIDE,
    THUMBNAIL_SIDE,
    add_pictures,
    list_pictures,
    read_picture,
    remove_picture,
)
from kb.storage.writing import remove_case, restore_case, save_new_case
from tests.kb.made_up_notes import new_case

ORIENTATION, GPS_IFD, GPS_LATITUDE = 0x0112, 0x8825, 2  # Exif 2.32, tables 4 and 15 (from memory)


@pytest.fixture
def case_id(nb: Notebook) -> str:
    return save_new_case(nb, new_case()).case


def picture(kind: str = "JPEG", size: tuple[int, int] = (40, 20), *, exif: Image.Exif | None = None) -> bytes:
    """Return a picture whose left half is red and whose right half is blue."""
    image = Image.new("RGB", size, "blue")
    image.paste("red", (0, 0, size[0] // 2, size[1]))
    buffer = io.BytesIO()
    image.save(buffer, kind, **({"exif": exif} if exif is not None else {}))
    return buffer.getvalue()


def opened(nb: Notebook, case_id: str, name: str, *, small: bool = False) -> Image.Image:
    data = read_picture(nb, case_id, name, small=small)
    assert data is not None
    return Image.open(io.BytesIO(data))


@pytest.mark.parametrize("kind", pictures.KINDS)
def test_picture_is_kept_and_listed_with_its_caption(nb: Notebook, case_id: str, kind: str) -> None:
    paths = add_pictures(nb, case_id, [("a.bin", picture(kind))], caption="  Burnt: Q801 ")
    assert paths == [f"pictures/{case_id}/01.jpg", f"pictures/{case_id}/captions.txt"]
    assert list_pictures(nb, case_id) == {"01.jpg": "Burnt: Q801"}
    assert opened(nb, case_id, "01.jpg").size == (40, 20)


def test_picture_is_upright_and_tells_no_place(nb: Notebook, case_id: str) -> None:
    exif = Image.Exif()
    exif[ORIENTATION] = 6  # to be turned by a quarter, clockwise
    exif.get_ifd(GPS_IFD)[GPS_LATITUDE] = (56.0, 20.0, 11.0)
    data = picture(exif=exif)
    assert Image.open(io.BytesIO(data)).getexif().get_ifd(GPS_IFD)
    add_pictures(nb, case_id, [("phone.jpg", data)], keep_original=True)
    for name in ("01.jpg", "01.original.jpg"):
        kept = opened(nb, case_id, name)
        assert kept.size == (20, 40)
        assert not dict(kept.getexif())
        red, _, blue = kept.convert("RGB").getpixel((10, 4))  # type: ignore[misc]
        assert red > 200 > blue


def test_large_picture_is_scaled_and_its_original_kept_when_asked(nb: Notebook, case_id: str) -> None:
    add_pictures(nb, case_id, [("big.jpg", picture(size=(2400, 1200)))], keep_original=True)
    assert opened(nb, case_id, "01.jpg").size == (LONGEST_SIDE, LONGEST_SIDE // 2)
    assert opened(nb, case_id, "01.original.jpg").size == (2400, 1200)
    assert opened(nb, case_id, "01.jpg", small=True).size == (THUMBNAIL_SIDE, THUMBNAIL_SIDE // 2)
    assert [*list_pictures(nb, case_id)] == ["01.jpg"]


def png_of(width: int, height: int) -> bytes:
    """Return a grey PNG of a few hundred bytes that says it has so many pixels."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    pixels = zlib.compress(b"\0" * 60_000)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", pixels) + chunk(b"IEND", b"")


SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'


@pytest.mark.parametrize("data", [
    pytest.param(b"", id="empty"),
    pytest.param(SVG, id="svg-with-script"),
    pytest.param(b"GIF89a" + b"\0" * 50, id="gif"),
    pytest.param(b"\xff\xd8\xff\xe0<script>alert(1)</script>", id="only-begins-like-a-jpeg"),
    pytest.param(picture()[:200], id="truncated"),
    pytest.param(picture("PNG")[:40], id="truncated-png"),
    pytest.param(png_of(60_000, 60_000), id="decompression-bomb"),
    pytest.param(b"%PDF-1.4", id="pdf"),
])  # fmt: skip
def test_hostile_picture_is_refused_and_nothing_is_kept(nb: Notebook, case_id: str, data: bytes) -> None:
    with pytest.raises(NoteError, match=r"evil\.jpg"):
        add_pictures(nb, case_id, [("good.jpg", picture()), ("evil.jpg", data)])
    assert list_pictures(nb, case_id) == {}
    assert not (nb.root / "pictures" / case_id).exists()


@pytest.mark.parametrize(("side", "said"), [(10_900, "is cut off"), (11_000, "more than 120 million pixels")])
def test_picture_may_have_120_million_pixels(nb: Notebook, case_id: str, side: int, said: str) -> None:
    with pytest.raises(NoteError, match=said):
        add_pictures(nb, case_id, [("large.png", png_of(side, side))])


def test_polyglot_keeps_only_its_pixels(nb: Notebook, case_id: str) -> None:
    add_pictures(nb, case_id, [("both.jpg", picture() + b"PK\x03\x04" + SVG)], keep_original=True)
    for file in (nb.root / "pictures" / case_id).glob("*.jpg"):
        assert b"script" not in file.read_bytes()


def test_too_large_a_file_is_refused_by_its_size(nb: Notebook, case_id: str) -> None:
    with pytest.raises(NoteError, match="send a smaller picture"):
        add_pictures(nb, case_id, [("a.jpg", picture() + bytes(pictures.LARGEST_FILE))])


@pytest.mark.parametrize("name", ["../../../shop.toml", "01.png", "captions.txt", "1.jpg", "", "01.jpg/.."])
def test_only_photographs_are_read(nb: Notebook, case_id: str, name: str) -> None:
    add_pictures(nb, case_id, [("a.jpg", picture())], caption="x")
    assert read_picture(nb, case_id, name) is None
    assert read_picture(nb, "../..", "01.jpg") is None


def test_folder_that_is_a_link_shows_nothing(nb: Notebook, case_id: str, tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere/01.jpg").write_bytes(picture())
    (nb.root / "pictures").mkdir()
    (nb.root / "pictures" / case_id).symlink_to(tmp_path / "elsewhere")
    assert list_pictures(nb, case_id) == {}
    assert read_picture(nb, case_id, "01.jpg") is None


def test_pictures_go_and_come_back_with_their_case(nb: Notebook, case_id: str) -> None:
    add_pictures(nb, case_id, [("a.jpg", picture()), ("b.png", picture("PNG"))], caption="both")
    removed = remove_case(nb, case_id)
    assert not list((nb.root / "pictures").rglob("*.jpg"))
    restore_case(nb, removed)
    assert [*list_pictures(nb, case_id).values()] == ["both", "both"]


def test_picture_taken_out_lies_aside_and_its_number_is_not_used_again_below_others(
    nb: Notebook, case_id: str
) -> None:
    add_pictures(nb, case_id, [("a.jpg", picture()), ("b.jpg", picture())], caption="c")
    remove_picture(nb, case_id, "01.jpg")
    assert (nb.state_dir / "removed-pictures" / case_id / "01.jpg").is_file()
    add_pictures(nb, case_id, [("c.jpg", picture())])
    assert [*list_pictures(nb, case_id)] == ["02.jpg", "03.jpg"]
    with pytest.raises(NoteError, match="give a picture that the case has"):
        remove_picture(nb, case_id, "01.jpg")
