"""What a field of a form is called by whoever fills it in: its label, as the page shows it."""

from __future__ import annotations

from html.parser import HTMLParser

FIELDS = ("input", "select", "textarea")


class _Labels(HTMLParser):
    """The label of each field of the forms that are sent to `action`; what is said for assistive technology first."""

    def __init__(self, action: str) -> None:
        super().__init__()
        self.action, self.found = action, dict[str, str]()
        self.sent_here = self.in_label = False
        self.said, self.waiting = "", ""  # the label's first text; the field that waits for it

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag == "form":
            self.sent_here = given.get("action") == self.action
        elif tag == "label":
            self.in_label, self.said, self.waiting = True, "", ""
        elif tag in FIELDS and self.sent_here and given.get("type") != "hidden" and (name := given.get("name")):
            if label := given.get("aria-label") or (self.said if self.in_label else ""):
                self.found.setdefault(name, label)
            elif self.in_label:
                self.waiting = name

    def handle_data(self, data: str) -> None:
        if self.in_label and not self.said and (text := " ".join(data.split())):
            self.said = text
            if self.waiting:
                self.found.setdefault(self.waiting, text)

    def handle_endtag(self, tag: str) -> None:
        if tag == "label":
            self.in_label = False
        elif tag == "form":
            self.sent_here = False


def with_label(text: str, field: str, page: str, action: str) -> str:
    """`text` about `field` of the form that is sent to `action`, by the label that the field has on the page (HTML).

    >>> page = '<form action="/go"><label>Level before, dB <input name="before_db"></label></form>'
    >>> with_label("'before_db' cannot be 'x'; a number would do.", "before_db", page, "/go")
    "“Level before, dB” cannot be 'x'; a number would do."
    """
    labels = _Labels(action)
    labels.feed(page)
    named = next((start for start in (f"'{field}' ", f"{field} ") if text.startswith(start)), "")
    return f"“{labels.found[field]}” {text[len(named) :]}" if named and field in labels.found else text
