"""A lesson's text: Markdown (CommonMark) as HTML for the page, and as plain blocks for paper and slides."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from markdown_it import MarkdownIt


@dataclass(frozen=True)
class Block:
    """A paragraph, or a point of a list (`mark` is its sign, "" for a paragraph)."""

    text: str
    mark: str = ""


@cache
def _reader() -> MarkdownIt:
    from markdown_it import MarkdownIt

    return MarkdownIt("commonmark", {"html": False})


def as_html(text: str) -> str:
    """Markdown as HTML; what looks like markup in it is shown as it stands."""
    return str(_reader().render(text)) if text.strip() else ""


def as_blocks(text: str) -> list[Block]:
    """Markdown as paragraphs and points of lists, without emphasis."""
    blocks: list[Block] = []
    lists: list[Any] = []
    for token in _reader().parse(text):
        if token.type in ("bullet_list_open", "ordered_list_open"):
            lists.append(0 if token.type.startswith("ordered") else None)
        elif token.type in ("bullet_list_close", "ordered_list_close"):
            lists.pop()
        elif token.type == "list_item_open" and lists[-1] is not None:
            lists[-1] += 1
        elif token.type == "inline":
            mark = "" if not lists else "•" if lists[-1] is None else f"{lists[-1]}."
            blocks.append(Block(_plain(token), mark))
    return blocks


def _plain(token: Any) -> str:
    parts = [child.content if child.type != "softbreak" else " " for child in token.children or []]
    return "".join(parts)
