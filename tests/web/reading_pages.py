"""Read a page as a person does: the text of its sections and the cells of their tables."""

from html.parser import HTMLParser

VOID = frozenset({"input", "link", "meta", "br", "hr", "img"})
UNREAD = frozenset({"svg", "script", "style", "button", "details"})


class PageText(HTMLParser):
    """The sections of a page, each under the id of its heading.

    text: by heading, all its words. rows: by heading, the cells of each row of its tables, headings apart.
    Drawings and what is folded away are left out.
    """

    def __init__(self, html: str) -> None:
        super().__init__()
        self.text: dict[str, str] = {}
        self.rows: dict[str, list[list[str]]] = {}
        self._section = ""
        self._open: list[str] = []
        self._cell: list[str] | None = None
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in VOID:
            self._open.append(tag)
        if tag == "section":
            self._section = dict(attrs).get("aria-labelledby") or ""
        if self._unread():
            return
        if tag == "tr":
            self.rows.setdefault(self._section, []).append([])
        if tag in ("td", "th"):
            self._cell = []

    def handle_endtag(self, tag: str) -> None:
        while self._open and self._open.pop() != tag:
            pass
        if self._unread():
            return
        if tag in ("td", "th") and self._cell is not None:
            self.rows[self._section][-1].append(" ".join("".join(self._cell).split()))
            self._cell = None
        if tag == "section":
            self._section = ""

    def handle_data(self, data: str) -> None:
        if self._unread():
            return
        if self._cell is not None:
            self._cell.append(data)
        self.text[self._section] = " ".join(f"{self.text.get(self._section, '')} {data}".split())

    def _unread(self) -> bool:
        return not UNREAD.isdisjoint(self._open)
