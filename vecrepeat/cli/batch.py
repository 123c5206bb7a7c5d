"""``vecrepeat batch``: all files of one or hundreds of designs."""

from __future__ import annotations

from pathlib import Path

import click

from vecrepeat.cli import options
from vecrepeat.cli.options import Reply, option
from vecrepeat.cli.progress import progress
from vecrepeat.repeat.layout import Layout


@options.replying(
    click.Argument(["sources"], nargs=-1, required=True, type=options.PATH),
    options.output(
        "Where the files and the manifest go.",
        click.Path(path_type=Path, file_okay=False),
        metavar="FOLDER",
    ),
    option(
        "--colourway",
        "ways",
        multiple=True,
        metavar="NAME",
        help="Only this colourway (“as drawn” is one); may be given several times.",
    ),
    option(
        "--prints",
        type=options.FILE,
        help="Write the [[print]] tables of this TOML file, in place of the recipes' own.",
    ),
    options.LAYOUT,
    option(
        "--processes",
        type=click.IntRange(1),
        help="How many at once; by default what keeps all cores busy.",
    ),
    option("--scheduler", metavar="ADDRESS", help="Send the jobs to this Dask cluster."),
    option(
        "--limits",
        "limits_file",
        type=options.FILE,
        help="What the receiver takes, in TOML: formats, max-pixels, max-side, max-bytes.",
    ),
    option("--dry-run", is_flag=True, help="Only list what would be written."),
    options.JSON,
)
def batch(
    sources: tuple[Path, ...],
    output: Path,
    ways: tuple[str, ...],
    prints: Path | None,
    layout: Layout | None,
    processes: int | None,
    scheduler: str | None,
    limits_file: Path | None,
    dry_run: bool,
) -> Reply:
    """Write SOURCES, designs or collections, in every print and colourway, in parallel.

    A manifest lists what was written.

    What is there already, unchanged, is not written again: a batch that was stopped goes on
    where it was.
    """
    from vecrepeat.batch.jobs import ANY, jobs_of, read_limits
    from vecrepeat.batch.lanes import start_ahead
    from vecrepeat.batch.work import run_batch
    from vecrepeat.core.units import counted, format_bytes
    from vecrepeat.draw.cairo_library import NO_CAIRO
    from vecrepeat.util.cores import cores

    limits = ANY if limits_file is None else read_limits(limits_file)
    if not (dry_run or scheduler):
        start_ahead(processes or cores())
    jobs = jobs_of(sources, output, only=ways, prints=prints, layout=layout)
    if dry_run:
        from vecrepeat.batch.running import planned

        listed = list(planned(jobs, limits))
        refused = [one.refused for one in listed if one.refused is not None]
        for reason in refused:
            click.echo(f"would fail: {reason}", err=True)
        total = format_bytes(sum(one.bytes for one in listed))
        lines = [*(one.line() for one in listed), f"{counted(len(listed), 'file')}, about {total}"]
        return Reply([one.as_dict() for one in listed], lines, code=2 if refused else 0)
    with progress(str(output), len(jobs)) as step:
        done = run_batch(
            jobs, output, processes=processes, scheduler=scheduler, limits=limits, progress=step
        )
    for _, reason in done.failed:
        click.echo(f"failed: {reason}", err=True)
    facts = {
        "folder": str(done.folder),
        "written": done.written,
        "kept": done.kept,
        "files": list(done.records),
        "failed": [{"file": file, "reason": reason} for file, reason in done.failed],
    }
    # Other processes drew: what they noted is in the records.
    notes = [NO_CAIRO] if any(NO_CAIRO in record["notes"] for record in done.records) else []
    return Reply(facts, [done.line()], notes, 2 if done.failed else 0)
