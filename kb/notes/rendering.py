"""Show a note's markdown as HTML that can do no harm."""

import html
import re
from collections.abc import Sequence
from functools import lru_cache

from markdown_it import MarkdownIt
from markdown_it.renderer import RendererHTML
from markdown_it.token import Token
from markdown_it.utils import EnvType, OptionsDict

_SCHEME = re.compile(r"[a-z][a-z0-9+.-]*:", re.IGNORECASE)
# Chosen by us: a hundred pages, and enough marks for them. More would take over half a second.
LONGEST_MARKDOWN = 200_000  # characters
MOST_MARKS = 8_000
_MARKS = "[]!*_`|<&"
_SAFE_SCHEMES = ("http:", "https:", "mailto:")


@lru_cache(maxsize=64)
def render_markdown(text: str) -> str:
    """Return HTML for CommonMark with tables; a text that is too long is shown as it stands.

    Raw HTML is shown as text. Links may lead to http, https, mailto or within the notebook; others stay text.
    A picture on another host is not fetched: a link with its description stands in its place.
    """
    if len(text) > LONGEST_MARKDOWN or sum(map(text.count, _MARKS)) > MOST_MARKS:
        limit = f"More than {LONGEST_MARKDOWN:,} characters or {MOST_MARKS:,} marks: shown as it stands."
        return f"<p>{limit}</p>\n<pre>{html.escape(text)}</pre>\n"
    return str(_markdown().render(text))


@lru_cache(maxsize=1)
def _markdown() -> MarkdownIt:
    markdown = MarkdownIt("commonmark", {"html": False}).enable("table")
    markdown.validateLink = _is_safe_link  # type: ignore[method-assign]
    markdown.add_render_rule("image", _render_image)
    return markdown


def _is_safe_link(url: str) -> bool:
    # Browsers drop control characters and blanks before they look for a scheme.
    bare = re.sub(r"[\x00-\x20\x7f-\xa0]+", "", url)
    scheme = _SCHEME.match(bare)
    return scheme is None or scheme[0].lower() in _SAFE_SCHEMES


def _render_image(
    self: RendererHTML, tokens: Sequence[Token], idx: int, options: OptionsDict, env: EnvType
) -> str:
    token = tokens[idx]
    source = str(token.attrs.get("src", ""))
    if not _SCHEME.match(source) and not source.replace("\\", "/").startswith("//"):
        return self.image(tokens, idx, options, env)
    said = Token("text", "", 0, content=self.renderInlineAsText(token.children or [], options, env) or source)
    opening = Token("link_open", "a", 1, attrs={"href": source})
    return self.render([opening, said, Token("link_close", "a", -1)], options, env)
