"""The jobs on this computer: list and search them, show one, hand it on as a file, delete it, bring it back.

They lie in the user's data folder, or in the one that LINKCHECK_DATA names. Nothing is ever removed: a deleted job
comes back with undelete. JOB is the number that list shows.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import TYPE_CHECKING

from linkcheck.cli import exit_codes
from linkcheck.cli.file_out import save
from linkcheck.cli.output import say, width
from linkcheck.errors import LinkcheckError

if TYPE_CHECKING:
    from datetime import datetime

    from linkcheck.jobs.record import JobRecord
    from linkcheck.jobs.summary import JobSummary
    from linkcheck.walk.messages import Answer

__all__ = ["HELP", "NAME", "add_arguments", "run"]

NAME = "jobs"
HELP = "list, show, export, import, delete and rescue jobs"

_JOB = "number of the job, or the beginning of its uid"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Actions of the command."""
    actions = parser.add_subparsers(dest="action", metavar="ACTION", title="actions", required=True, help="what to do")
    listed = _action(actions, "list", "the jobs, the last changed first", _list)
    listed.add_argument(
        "words", nargs="*", metavar="WORD", help="only those with these words in unit, complaint, cause"
    )
    listed.add_argument("--deleted", action="store_true", help="the deleted ones instead")
    listed.add_argument("--json", action="store_true", help="as JSON, one object a job")
    shown = _action(actions, "show", "all entries of a job, those taken back too", _show)
    shown.add_argument("job", metavar="JOB", help=_JOB)
    exported = _action(actions, "export", "a job as JSON (linkcheck.job/1)", _export)
    exported.add_argument("job", metavar="JOB", help=_JOB)
    exported.add_argument("-o", "--output", metavar="FILE", help="write to a file instead of standard output")
    imported = _action(actions, "import", "take in jobs from files", _import)
    imported.add_argument("files", nargs="+", metavar="FILE", help="a file that export wrote")
    for name, help_text, act in (
        ("delete", "take a job out of the list", _delete),
        ("undelete", "bring a deleted job back", _undelete),
    ):
        _action(actions, name, help_text, act).add_argument("job", metavar="JOB", help=_JOB)
    rescued = _action(actions, "rescue", "save what can be read of a damaged file; it is kept aside", _rescue)
    rescued.add_argument("file", nargs="?", metavar="FILE", help="the damaged file (default: the jobs' own)")


def _action(
    actions: argparse._SubParsersAction[argparse.ArgumentParser],
    name: str,
    help_text: str,
    act: Callable[[argparse.Namespace], None],
) -> argparse.ArgumentParser:
    parser = actions.add_parser(name, help=help_text, description=f"{help_text[0].upper()}{help_text[1:]}.")
    parser.set_defaults(act=act)
    return parser


def run(args: argparse.Namespace) -> int:
    """Do it.

    Raises:
        DataError: the store or a file cannot be used.
        UsageError: there is no such job.

    """
    args.act(args)
    return exit_codes.OK


def _list(args: argparse.Namespace) -> None:
    from linkcheck.jobs.store import open_store  # noqa: PLC0415  nothing of it in --help

    with open_store(read_only=True) as store:
        jobs = store.list(" ".join(args.words), deleted=args.deleted)
    if args.json:
        import msgspec  # noqa: PLC0415

        for job in jobs:
            print(msgspec.json.encode(job).decode())
        return
    for job in jobs:
        print(_row(job))
    if not jobs:
        say("No such job." if args.words else "No job yet." if not args.deleted else "No deleted job.")


def _row(job: JobSummary) -> str:
    about = job.cause or job.complaint
    head = f"{job.id:>4}  {_local(job.changed_at)}  {job.state:<15}  {job.unit:<14}"
    return f"{head}  {about}"[: width()].rstrip()


def _show(args: argparse.Namespace) -> None:
    from linkcheck.jobs.history import history  # noqa: PLC0415
    from linkcheck.jobs.store import open_store  # noqa: PLC0415

    with open_store(read_only=True) as store:
        job = store.record(args.job)
    print(f"Job {job.id}, {job.state}{', deleted' if job.deleted else ''}; uid {job.uid}")
    print("Entries marked - were taken back or replaced since.")
    for line in history(job, _said(job)):
        mark = " " if line.counts else "-"
        print(f"{mark} {line.entry.n:>3}  {_local(line.entry.at)}  {line.text}")


def _said(job: JobRecord) -> Callable[[Answer], str] | None:
    """How readings are said: with the connector's labels, where its pinout can be read."""
    if job.walk is None:
        return None
    from linkcheck.jobs.naming import answer_words, layout_for  # noqa: PLC0415  numpy

    try:
        layout = layout_for(job.walk.setup)
    except LinkcheckError:
        return None
    return lambda answer: answer_words(answer, layout)


def _export(args: argparse.Namespace) -> None:
    from linkcheck.jobs.exchange import export_job  # noqa: PLC0415
    from linkcheck.jobs.store import open_store  # noqa: PLC0415

    with open_store(read_only=True) as store:
        text = export_job(store.record(args.job))
    save(text, args.output)


def _import(args: argparse.Namespace) -> None:
    from linkcheck.jobs.exchange import import_job  # noqa: PLC0415
    from linkcheck.jobs.store import open_store  # noqa: PLC0415

    with open_store() as store:
        for path in args.files:
            done = import_job(store, path)
            what = "new" if done.new else f"{done.added} new entries" if done.added else "here already, unchanged"
            print(f"{path}: job {done.job}, {what}")


def _delete(args: argparse.Namespace) -> None:
    from linkcheck.jobs.store import open_store  # noqa: PLC0415

    with open_store() as store:
        job = store.find(args.job)
        store.delete(job)
    print(f"Job {job} is deleted. Bring it back with: linkcheck jobs undelete {job}")


def _undelete(args: argparse.Namespace) -> None:
    from linkcheck.jobs.store import open_store  # noqa: PLC0415

    with open_store() as store:
        job = store.find(args.job)
        store.undelete(job)
    print(f"Job {job} is back.")


def _rescue(args: argparse.Namespace) -> None:
    from pathlib import Path  # noqa: PLC0415

    from linkcheck.jobs.rescue import rescue  # noqa: PLC0415
    from linkcheck.jobs.store import data_path  # noqa: PLC0415

    done = rescue(Path(args.file) if args.file else data_path())
    print(f"{done.jobs} jobs with {done.entries} entries saved; {done.lost} entries could not be read.")
    print(f"The damaged file is kept as {done.kept}")


def _local(at: datetime) -> str:
    return f"{at.astimezone():%Y-%m-%d %H:%M}"
