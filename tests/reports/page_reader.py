"""A page read back with the standard library's parser, independent of the templates that wrote it."""

from __future__ import annotations

from html.parser import HTMLParser

VOID = {"meta", "link", "input", "br", "img", "hr"}


class PageReader(HTMLParser):
    """Tags, attributes, ids, visible text and unbalanced tags of one page."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self.faults: list[str] = []
        self._open: list[str] = []
        self.feed(page)
        self.close()
        self.faults += [f"never closed: {tag}" for tag in self._open]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if not self._open or self._open.pop() != tag:
            self.faults.append(f"closed out of turn: {tag}")

    def handle_data(self, data: str) -> None:
        if not self._open or self._open[-1] not in ("style", "script"):
            self.texts.append(data)

    def values(self, name: str) -> list[str]:
        """All values of one attribute."""
        return [value for _, attributes in self.tags if (value := attributes.get(name)) is not None]

    def named(self, tag: str) -> list[dict[str, str | None]]:
        """Attributes of every tag of this kind."""
        return [attributes for found, attributes in self.tags if found == tag]
