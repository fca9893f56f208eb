"""Keys: how a page names what can be pressed, and what the user's settings may change.

Every binding has an id ("walk.skip"), so that a line in the settings file can give it another key; a sentence for the
help; and, for at most five of a page, a place in the footer. Keys that terminals swallow or mistake for others
(ctrl+h, i, j, m, [ and the text field's own) are not used.
"""

from __future__ import annotations

from textual.binding import Binding

__all__ = ["FOOTER_MOST", "key", "key_words"]

FOOTER_MOST = 6  # that fit into 80 columns, help included
WORDS = {
    "question_mark": "?",
    "escape": "esc",
    "slash": "/",
    "delete": "del",
    "pagedown": "pgdn",
    "pageup": "pgup",
    "colon": ":",
    "space": "space",
    "up": "↑",
    "down": "↓",
}


def key(name: str, keys: str, action: str, label: str, what: str, *, footer: bool = False) -> Binding:
    """One thing that can be done with a key.

    Args:
        name: id, page and action: "walk.skip".
        keys: one, or several with commas; the first is the one shown.
        action: of the page ("skip" for `action_skip`).
        label: one or two words, for the footer.
        what: a sentence for the help and the tooltip.
        footer: has a place in the footer; at most five of a page have.

    """
    return Binding(keys, action, label, show=footer, tooltip=what, id=name, key_display=key_words(keys))


def key_words(keys: str) -> str:
    """The first of some keys as one writes it: "?", "esc", "^p"."""
    first = keys.split(",", maxsplit=1)[0].strip()
    if first.startswith("ctrl+"):
        return f"^{first[5:]}"
    return WORDS.get(first, first)
