"""The forms a report can be written in. What makes one is loaded when it is asked for."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from linkcheck.report.content import Report

__all__ = ["FORMS", "Form"]


@dataclass(frozen=True, slots=True)
class Form:
    """One form: what it is called, how its file ends, and what makes its text."""

    title: str
    ending: str
    write: Callable[[Report], str]


def _page(report: Report) -> str:
    from linkcheck.report.page import as_html  # noqa: PLC0415

    return as_html(report)


def _customer(report: Report) -> str:
    from linkcheck.report.customer import as_customer_page  # noqa: PLC0415

    return as_customer_page(report)


def _text(report: Report) -> str:
    from linkcheck.report.text import as_text  # noqa: PLC0415

    return as_text(report)


def _json(report: Report) -> str:
    from linkcheck.report.content import as_json  # noqa: PLC0415

    return as_json(report)


FORMS: Mapping[str, Form] = {
    "page": Form("a page to print or send (HTML)", "html", _page),
    "customer": Form("a page in plain words for the customer (HTML)", "customer.html", _customer),
    "text": Form("plain text for a work order", "txt", _text),
    "json": Form("JSON for other programs", "json", _json),
}
