"""The sheet of a bench test as one HTML file, with the report's own style. Layout is in `bench.html.j2`."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import PurePath

from markupsafe import Markup

from linkcheck.bench.result import BenchResult
from linkcheck.bench.sheet import MARKS, REMARK, as_json, as_text
from linkcheck.report.page import HERE, environment

__all__ = ["bench_file", "bench_html"]


def bench_file(result: BenchResult, changed: Sequence[str], name: str) -> str:
    """The sheet as a file's ending wants it: .html, .json, else text."""
    ending = PurePath(name).suffix.lower()
    if ending in (".html", ".htm"):
        return bench_html(result, changed)
    return as_json(result) if ending == ".json" else as_text(result, changed)


def bench_html(result: BenchResult, changed: Sequence[str] = ()) -> str:
    """The whole sheet; `changed` says what is different from the last test."""
    conditions = result.conditions
    facts = [
        ("Under test", conditions.adapter),
        ("It says it is", conditions.identity or "nothing"),
        ("Partner", " ".join(filter(None, (conditions.partner, conditions.partner_identity)))),
        ("Host", conditions.host),
        ("Started", conditions.started),
        ("Plan and seed", f"{conditions.plan}, {conditions.seed}"),
    ]
    return (
        environment()
        .get_template("bench.html.j2")
        .render(
            result=result,
            facts=facts,
            changed=changed,
            marks=MARKS,
            remark=REMARK,
            css=Markup((HERE / "report.css").read_text(encoding="utf-8")),  # noqa: S704  our own file
        )
    )
