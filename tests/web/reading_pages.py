"""Read pages as a browser or a person does: what could run, what a form would send, what is written where."""

import re
from collections import defaultdict
from html.parser import HTMLParser
from urllib.parse import urlsplit

from werkzeug.datastructures import MultiDict

UNREAD = frozenset({"svg", "script", "style", "button", "details"})
BOXES = ("radio", "checkbox")


class Page(HTMLParser):
    """Each tag of a page, an end tag as "/tag", with its attributes and the text up to the next tag."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str], list[str]]] = [("", {}, [])]
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}, []))

    def handle_endtag(self, tag: str) -> None:
        self.tags.append((f"/{tag}", {}, []))

    def handle_data(self, data: str) -> None:
        self.tags[-1][2].append(data)

    @property
    def text(self) -> str:
        return "".join("".join(text) for _, _, text in self.tags)

    def links(self) -> list[str]:
        return [attrs["href"] for tag, attrs, _ in self.tags if tag == "a" and "href" in attrs]

    def harm(self) -> list[str]:
        """Return what no page of ours has: foreign tags, scripts of their own, handlers, odd addresses."""
        found = []
        for tag, attrs, _ in self.tags:
            inline = tag in ("script", "iframe", "object", "embed", "base") and "src" not in attrs
            found += [tag] if tag == "probe" or inline else []
            found += [f"{tag} {name}" for name in attrs if name.startswith("on") or name == "style"]
            for name in {"href", "src", "action", "formaction"} & attrs.keys():
                # A browser takes out control characters, and takes a backslash for a slash.
                address = urlsplit(re.sub(r"[\x00-\x20]+", "", attrs[name]).replace("\\", "/"))
                ours = not address.netloc and not address.scheme
                outside = tag == "a" and address.scheme in ("http", "https", "mailto")
                found += [] if ours or outside else [f"{tag} {name}={attrs[name]}"]
        return found


def form_values(html: str, form: str = "write-up") -> MultiDict[str, str]:
    """Return what a browser would send of a form on a page, by its id or class; no button is pressed."""
    values: MultiDict[str, str] = MultiDict()
    inside = False
    for tag, attrs, text in Page(html).tags:
        name = attrs.get("name") if inside or attrs.get("form") == form else ""
        if tag in ("form", "/form"):
            inside = form in (attrs.get("id"), *attrs.get("class", "").split())
        elif name and tag == "textarea":
            # The line break right behind the tag is not part of the value; sent lines end in CR LF.
            values.add(name, "".join(text).removeprefix("\n").replace("\n", "\r\n"))
        elif name and tag == "input" and ("checked" in attrs or attrs.get("type") not in BOXES):
            values.add(name, attrs.get("value", ""))
    return values


class Sections:
    """The sections of a page, each under the id of its heading.

    text: by heading, all its words. rows: by heading, the cells of each row of its tables, headings apart.
    Drawings and what is folded away are left out.
    """

    def __init__(self, html: str) -> None:
        self.text: dict[str, str] = defaultdict(str)
        rows: dict[str, list[list[str]]] = defaultdict(list)
        section, unread, in_cell = "", 0, False
        for tag, attrs, words in Page(html).tags:
            if tag in ("section", "/section"):
                section = attrs.get("aria-labelledby", "")
            if tag.strip("/") in UNREAD:
                unread += 1 if tag in UNREAD else -1
            if unread:
                continue
            if tag == "tr":
                rows[section].append([])
            elif tag.strip("/") in ("td", "th"):
                in_cell = tag in ("td", "th")
                rows[section][-1] += [""] * in_cell
            if in_cell:
                rows[section][-1][-1] += "".join(words)
            self.text[section] = " ".join(f"{self.text[section]} {' '.join(words)}".split())
        self.rows = {
            name: [[" ".join(cell.split()) for cell in row] for row in found] for name, found in rows.items()
        }
