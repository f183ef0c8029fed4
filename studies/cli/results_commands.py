"""Commands that look further into results: one posture again, and what was too rare to be met."""

import json
import sys
from pathlib import Path

import click

from crossaxle.studies.cli.common import json_option, reporting_errors, save, stop

_candidates = click.option(
    "--candidate",
    default="",
    metavar="KEY=VALUE,...",
    help="E.g. 'wheelbase=4.4 m, mount=rigid' [default: all].",
)
_courses = click.option(
    "--course", default="", metavar="NAME", help="One of the study's courses [default: all]."
)


@click.command()
@click.argument("folder", metavar="DIR")
@click.option(
    "--worst",
    required=True,
    metavar="NAME",
    help="Output to replay at its worst: a variable of results.nc, of one item if there are several, "
    "e.g. 'gap_minimum:cab back to body', frame_twist_maximum.",
)
@_candidates
@_courses
@click.option("--chart", metavar="FILE", help="Draw it (PNG, SVG or PDF by the name's ending).")
@click.option("--film", metavar="FILE", help="Film the metres before and after (GIF, or HTML with a player).")
@json_option
@reporting_errors
def replay(
    folder: str, worst: str, candidate: str, course: str, chart: str | None, film: str | None, as_json: bool
) -> None:
    """Reproduce and draw the worst posture of an output.

    Nothing but DIR/results.nc is needed.

    Without --candidate and --course the worst over all of them is taken.
    """
    from crossaxle.studies.analysis.worst import find_worst
    from crossaxle.studies.pictures.replay_view import (
        check_film_name,
        describe_replay,
        draw_replay,
        replay_text,
        write_film,
    )
    from crossaxle.studies.posture.replay import Replayer
    from crossaxle.studies.run.dataset import read_results
    from crossaxle.studies.run.sampling import RESULTS

    check_film_name(film)
    dataset = read_results(Path(folder) / RESULTS)
    chosen = find_worst(dataset, worst, candidate, course)
    replayer = Replayer(dataset)
    found = replayer.replay(chosen)
    if chart:
        save(draw_replay(dataset, replayer, found), chart)
    if film:
        write_film(dataset, replayer, found, Path(film))
        click.echo(f"wrote {film}", err=True)
    click.echo(
        json.dumps(describe_replay(dataset, found), indent=1) if as_json else replay_text(dataset, found)
    )
    if not found.exact:
        stop("the replay differs from the results by more than rounding; see above", 1)


@click.command()
@click.argument("folder", metavar="DIR")
@click.option(
    "--output",
    required=True,
    metavar="NAME",
    help="What happens seldom: a variable of results.nc, of one item if there are several, e.g. "
    "'gap_minimum:cab back to body', 'bracket_stress_maximum:water front bracket'.",
)
@click.option("--level", required=True, metavar="QUANTITY", help='What it passes, e.g. "0 mm", "160 MPa".')
@_candidates
@_courses
@click.option(
    "--repeats",
    type=click.IntRange(3, 10_000),
    metavar="N",
    default=8,
    show_default=True,
    help="Independent estimates; more make the interval narrower.",
)
@click.option(
    "--seed",
    type=click.IntRange(0),
    default=0,
    show_default=True,
    metavar="N",
    help="Seed of the random ground.",
)
@json_option
@reporting_errors
def rare(
    folder: str, output: str, level: str, candidate: str, course: str, repeats: int, seed: int, as_json: bool
) -> None:
    """Find how rare an event is that a run hardly meets.

    How many kilometres lie between two closings of a gap, or two passings of a bracket's limit, down to once in ten
    million. Nothing but DIR/results.nc is needed; `crossaxle report DIR` then shows it.

    Without --candidate and --course all of them are looked at, a minute or two each.
    """
    from tqdm import tqdm

    from crossaxle.studies.base.cautions import RARE, caution_lines
    from crossaxle.studies.rare.rare_findings import keep_findings
    from crossaxle.studies.rare.rare_search import asked_for, search
    from crossaxle.studies.rare.rare_view import describe_rare, rare_text
    from crossaxle.studies.run.dataset import read_results
    from crossaxle.studies.run.sampling import RESULTS
    from crossaxle.studies.study.aims import aims

    dataset = read_results(Path(folder) / RESULTS)
    asked = asked_for(dataset, output, level, candidate, course)
    with tqdm(total=repeats * len(asked.places), unit="estimate", file=sys.stderr) as bar:
        found = search(dataset, asked, repeats, seed, lambda: bar.update() and None)
    keep_findings(dataset, Path(folder), found)
    click.echo(f"kept; `crossaxle report {folder}` puts it into the report", err=True)
    if as_json:
        click.echo(json.dumps([describe_rare(dataset, f) for f in found], indent=1))
        return
    life = aims(dataset).life
    lines = [*caution_lines(RARE), *(rare_text(dataset, f, life) for f in found)]
    click.echo("\n".join(lines))
