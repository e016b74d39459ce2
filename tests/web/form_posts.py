"""Read a page's form as a browser would send it back."""

from html.parser import HTMLParser

from werkzeug.datastructures import MultiDict

# What a technician types into the form in a hurry; the family is found from the model.
TYPED = {
    "complaint": "kettle noise, then nothing at all",
    "symptom": "dead",
    "model": "HV-55L2X",
    "root_cause": "bridge rectifier shorted",
    "fix_time": "40",
    "outcome": "fixed",
    "date": "2026-07-01",
    "body": "BD801 went **short**.",
}


class _FormReader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.values: list[tuple[str, str]] = []
        self._inside = False
        self._box: tuple[str, list[str]] | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._inside = "write-up" in given.get("class", "")
        elif not self._inside or not given.get("name"):
            return
        elif tag == "textarea":
            self._box = (given["name"], [])
        elif tag == "input" and (given.get("type") not in ("radio", "checkbox") or "checked" in given):
            self.values.append((given["name"], given.get("value", "")))

    def handle_data(self, data: str) -> None:
        if self._box:
            self._box[1].append(data)

    def handle_endtag(self, tag: str) -> None:
        if tag == "textarea" and self._box:
            text = "".join(self._box[1])
            # The line break right behind the tag is not part of the value; sent lines end in CR LF.
            self.values.append((self._box[0], text.removeprefix("\n").replace("\n", "\r\n")))
            self._box = None
        elif tag == "form":
            self._inside = False


def form_values(html: str) -> MultiDict[str, str]:
    """Return the names and values of the write-up form on a page."""
    reader = _FormReader()
    reader.feed(html)
    return MultiDict(reader.values)
