"""The write-up of a job: complaint, cause, correction, confirmation, readings before and after, traffic, who and when.

As a page that needs nothing else and prints on Letter and A4, as JSON, as text for pasting into a work order, or as a
page in plain words for the customer. JOB is the number that `linkcheck jobs list` shows.
"""

from __future__ import annotations

import argparse
import os

from linkcheck.cli import exit_codes
from linkcheck.cli.file_out import save

__all__ = ["HELP", "NAME", "add_arguments", "run"]

NAME = "report"
HELP = "write a job up: page, JSON, text for the work order, page for the customer"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("job", metavar="JOB", help="number of the job, or the beginning of its uid")
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--html", action="store_const", dest="form", const="html", help="one HTML file (the default)")
    form.add_argument("--json", action="store_const", dest="form", const="json", help="JSON (linkcheck.report/1)")
    form.add_argument("--text", action="store_const", dest="form", const="text", help="plain text, 72 columns")
    form.add_argument(
        "--customer", action="store_const", dest="form", const="customer", help="one HTML file in plain words"
    )
    parser.add_argument("-o", "--output", metavar="FILE", help="write to a file instead of standard output")


def run(args: argparse.Namespace) -> int:
    """Write it.

    Raises:
        UsageError: there is no such job.
        DataError: the store cannot be read, or the file cannot be written.

    """
    # Matrices here are small: threads of the linear algebra would only get in each other's way.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from linkcheck.jobs.store import open_store  # noqa: PLC0415  nothing of it in --help

    with open_store(read_only=True) as store:
        job = store.record(args.job)
    from linkcheck.report.compose import compose  # noqa: PLC0415  numpy

    report = compose(job)
    match args.form:
        case "json":
            from linkcheck.report.content import as_json as write  # noqa: PLC0415
        case "text":
            from linkcheck.report.text import as_text as write  # noqa: PLC0415
        case "customer":
            from linkcheck.report.customer import as_customer_page as write  # noqa: PLC0415
        case _:
            from linkcheck.report.page import as_html as write  # noqa: PLC0415  jinja2, and matplotlib with plots
    save(write(report), args.output)
    return exit_codes.OK
