"""The readable page of a before/after comparison. Values in, one string out."""

from __future__ import annotations

import textwrap

from linkcheck.traffic.compare import Comparison

__all__ = ["comparison_page"]

_WORDS = {"worse": "WORSE", "better": "BETTER", "other": "OTHER"}


def comparison_page(found: Comparison, width: int) -> str:
    """The comparison as text, `width` columns wide."""
    lines = [f"before  {found.before}   {found.before_s:.1f} s", f"after   {found.after}   {found.after_s:.1f} s"]
    lines.append("═" * width)
    counts = {verdict: sum(c.verdict == verdict for c in found.changes) for verdict in _WORDS}
    heard = f"{found.same} address{'' if found.same == 1 else 'es'} heard in both"
    if not found.changes:
        lines.append(f"No difference worth telling; {heard}.")
    else:
        lines.append(f"{counts['worse']} worse, {counts['better']} better, {counts['other']} other; {heard}.")
    lines.append("")
    for change in found.changes:
        lead = f"{_WORDS[change.verdict]:<8}"
        lines += textwrap.wrap(change.text, width, initial_indent=lead, subsequent_indent=" " * 8)
    return "\n".join(lines).rstrip()
