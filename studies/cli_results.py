"""Commands that look further into results: one posture again."""

import json
from pathlib import Path

import click

from studies.cli_common import json_option, save, stop, told


@click.command()
@click.argument("folder", metavar="DIR")
@click.option(
    "--worst",
    required=True,
    metavar="NAME",
    help="Output to replay at its worst: a variable of results.nc, of one item if there are several, "
    "e.g. 'gap_minimum:cab back to body', frame_twist_maximum.",
)
@click.option("--candidate", default="", metavar="KEY=VALUE,...", help="E.g. 'wheelbase=4.4 m, mount=rigid'.")
@click.option("--course", default="", metavar="NAME", help="One of the study's courses.")
@click.option("--chart", metavar="FILE", help="Draw it (PNG, SVG or PDF by the name's ending).")
@click.option("--film", metavar="FILE", help="Film the metres before and after (GIF, or HTML with a player).")
@json_option
@told
def replay(
    folder: str, worst: str, candidate: str, course: str, chart: str | None, film: str | None, as_json: bool
) -> None:
    """Reproduce and draw the worst posture of an output.

    Nothing but DIR/results.nc is needed.

    Without --candidate and --course the worst over all of them is taken.
    """
    from studies.dataset import read_results
    from studies.replay import Replayer
    from studies.replay_view import check_film_name, describe_replay, draw_replay, replay_text, write_film
    from studies.run import RESULTS
    from studies.worst import find_worst

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
