"""``vecrepeat batch``: all files of one or hundreds of recipes."""

from __future__ import annotations

from pathlib import Path

import click

from vecrepeat.cli import options
from vecrepeat.cli.progress import progress


@click.command()
@click.argument("recipes", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(path_type=Path, file_okay=False),
    metavar="FOLDER",
    help="Where the files and the manifest go.",
)
@click.option(
    "--colourway",
    "ways",
    multiple=True,
    metavar="NAME",
    help="Only this colourway (“as drawn” is one); may be given several times.",
)
@click.option("--processes", type=click.IntRange(1), help="How many at once; one a core.")
@click.option("--scheduler", metavar="ADDRESS", help="Send the jobs to this Dask cluster.")
@click.option(
    "--limits",
    "limits_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="What the receiver takes, in TOML: formats, max-pixels, max-side, max-bytes.",
)
@click.option("--dry-run", is_flag=True, help="Only list what would be written.")
@options.json_option
def command(
    recipes: tuple[Path, ...],
    output: Path,
    ways: tuple[str, ...],
    processes: int | None,
    scheduler: str | None,
    limits_file: Path | None,
    dry_run: bool,
    as_json: bool,
) -> int:
    """Write every print of RECIPES in every colourway, in parallel, and a manifest of them.

    What is there already, unchanged, is not written again: a batch that was stopped goes on
    where it was.
    """
    from vecrepeat.batch import run_batch
    from vecrepeat.jobs import jobs_of, planned, read_limits
    from vecrepeat.units import format_bytes

    jobs = jobs_of(recipes, output, only=ways)
    limits = None if limits_file is None else read_limits(limits_file)
    if dry_run:
        listed = list(planned(jobs))
        if as_json:
            options.show_json([one.__dict__ for one in listed])
            return 0
        for one in listed:
            size = f"about {format_bytes(one.bytes)}"
            click.echo(f"{one.file}: {one.width:,} × {one.height:,} px, {size}")
        click.echo(f"{len(listed)} files, about {format_bytes(sum(one.bytes for one in listed))}")
        return 0
    with progress(str(output), len(jobs)) as step:
        done = run_batch(
            jobs,
            output,
            processes=processes,
            scheduler=scheduler,
            limits=limits,
            progress=step,
        )
    for _, reason in done.failed:
        click.echo(f"failed: {reason}", err=True)
    if as_json:
        facts = {
            "folder": str(done.folder),
            "written": done.written,
            "kept": done.kept,
            "files": list(done.records),
            "failed": [{"file": file, "reason": reason} for file, reason in done.failed],
        }
        options.show_json(facts)
    else:
        click.echo(done.line())
    return 2 if done.failed else 0
