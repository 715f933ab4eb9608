"""`clearance check`: does each car go up, and why."""

from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from catalog.errors import StoreError, UsageError
from clearance.cli.options import BuiltSource, CarFigures, Output, shared
from clearance.cli.output import emit
from clearance.cli.sources import Question, door_car, gather

if TYPE_CHECKING:
    from clearance.judge.findings import CheckResult
    from clearance.judge.fleet import Fleet
    from clearance.judge.trains import TrainResult

__all__ = ["check"]


@shared
def check(
    source: BuiltSource,
    output: Output,
    figures: CarFigures,
    car: Annotated[
        list[str] | None, typer.Argument(help="Cars by id; none: all of the helix's gauge.")
    ] = None,
    every_obstacle: Annotated[
        bool, typer.Option(help="The gap under every beam and obstacle, not only the tightest.")
    ] = False,
    train: Annotated[
        str | None,
        typer.Option(help='A train from its head, like "27, 104, 104, 9".', metavar="CARS"),
    ] = None,
    explain: Annotated[
        bool, typer.Option("--explain", help="What governs, worked through figure by figure.")
    ] = False,
    of: Annotated[
        str | None,
        typer.Option(
            help='With --explain: this check, like "coupling", whether it governs or not.',
            metavar="CHECK",
        ),
    ] = None,
    mend: Annotated[
        bool,
        typer.Option("--mend", help="The least changes that let each car pass, checked again."),
    ] = False,
) -> None:
    """The verdict, and why.

    For cars of the catalog, for files, or for a car whose figures you type.
    Exit status 0: all pass; 3: the worst is marginal or not measured; 4: something does not fit.

    A helix of the catalog is judged by its latest survey, a helix file as drawn or by --survey.

    Examples: clearance check 27 · clearance check --helix helix.toml --cars cars.csv ·
    clearance check --height "8 1/2 in" --width 110mm --length 420mm --wheelbase 260mm ·
    clearance check 27 --as-of 2025-12-31 · clearance check --train "27, 104, 104, 9" ·
    clearance check 27 --explain · clearance check 27 --mend ·
    clearance check --train "27, 104" --explain --of coupling
    """
    if every_obstacle + explain + mend > 1 or (train is not None and every_obstacle + mend):
        raise UsageError(
            "--train, --every-obstacle, --explain and --mend each ask another thing; name one "
            "(--explain goes with --train as well)"
        )
    if of is not None and not explain:
        raise UsageError("--of says which check to explain; it goes with --explain")
    if train is not None:
        ids = _coupled(train, car, figures)
        _check_train(source, output, ids, of=of, explain=explain)
    from clearance.judge import check as judge
    from clearance.judge.verdict import PASSES, exit_status
    from clearance.show import check as show

    if every_obstacle and output.format == "csv":
        raise UsageError("--every-obstacle goes with text and json; a row of csv is a finding")
    door = door_car(figures, source.units)
    if explain and not door and not car:
        raise UsageError("--explain works a car through; name it, like 'clearance check 27'")
    if mend and output.format == "csv":
        raise UsageError("--mend goes with text and json; a row of csv is a finding")
    if mend and not door and not car:
        raise UsageError("--mend looks for what helps a car; name it, like 'clearance check 27'")
    asked = gather(source, car or (), door)
    result = judge.check(asked.helix, asked.fleet, asked.survey, every_obstacle=every_obstacle)
    if explain:
        _explain(output, asked, result, of)
    elif mend:
        _mend(output, asked, result, _everybody(source, asked, at_the_door=bool(door)))
    else:
        emit(
            output,
            note=asked.note,
            standing=asked.standing,
            text=lambda: show.check_text(result, every_obstacle=every_obstacle),
            data=lambda: show.check_data(result, every_obstacle=every_obstacle),
            rows=lambda: show.check_rows(result),
        )
    raise typer.Exit(exit_status(int(result.codes().max(initial=PASSES))))


def _explain(output: Output, asked: Question, result: "CheckResult", of: str | None) -> None:
    from clearance.judge.explain import explain
    from clearance.show import explain as show

    explanations = [explain(result, number, check=of) for number in range(len(result.fleet))]
    emit(
        output,
        note=asked.note,
        standing=asked.standing,
        text=lambda: show.explain_text(result, explanations),
        data=lambda: show.explain_data(result, explanations),
        rows=lambda: show.explain_rows(explanations),
    )


def _everybody(source: BuiltSource, asked: Question, *, at_the_door: bool) -> "Fleet":
    """All cars that go on running on the helix, whatever is done for one of them."""
    try:
        return gather(source, none_will_do=True).fleet
    except StoreError:
        if not at_the_door:
            raise
        return asked.fleet.select([])  # a car at the door asks for no catalog


def _mend(output: Output, asked: Question, result: "CheckResult", everybody: "Fleet") -> None:
    from clearance.judge.mending import mends
    from clearance.judge.verdict import PASSES
    from clearance.show import check as show
    from clearance.show.mends import mends_lines, with_mends

    found = mends(result, everybody)
    passes = [code == PASSES for code in result.codes().tolist()]
    below = [mends_lines(some, passes=fine) for some, fine in zip(found, passes, strict=True)]
    emit(
        output,
        note=asked.note,
        standing=asked.standing,
        text=lambda: show.check_text(result, below=below),
        data=lambda: with_mends(show.check_data(result), found),
        rows=lambda: show.check_rows(result),
    )


def _coupled(train: str, cars: list[str] | None, figures: CarFigures) -> list[str]:
    """The cars of a train as typed.

    Raises
    ------
    UsageError
        There are none, or something else is asked for beside it.
    """
    if cars or any(text is not None for text in vars(figures).values()):
        raise UsageError("--train names the cars; name no others, and no figures, beside it")
    ids = [name.strip() for name in train.split(",")]
    if not all(ids):
        raise UsageError(f'--train {train!r}: a name is blank; write it like "27, 104, 104, 9"')
    return ids


def _check_train(
    source: BuiltSource, output: Output, ids: list[str], *, of: str | None, explain: bool
) -> NoReturn:
    from clearance.judge.trains import check_train
    from clearance.judge.verdict import exit_status
    from clearance.show import train as show

    asked = gather(source, ids)
    train = check_train(asked.helix, asked.fleet, ids, asked.survey)
    if explain:
        _explain_train(output, asked, train, of)
    else:
        emit(
            output,
            note=asked.note,
            standing=asked.standing,
            text=lambda: show.train_text(train),
            data=lambda: show.train_data(train),
            rows=lambda: show.train_rows(train),
        )
    raise typer.Exit(exit_status(max(train.code(track.name) for track in asked.helix.tracks)))


def _explain_train(output: Output, asked: Question, train: "TrainResult", of: str | None) -> None:
    from clearance.judge.explain_train import explain_train
    from clearance.show import explain as show

    found = explain_train(train, of)
    emit(
        output,
        note=asked.note,
        standing=asked.standing,
        text=lambda: show.explain_train_text(train, found),
        data=lambda: show.explain_train_data(train, found),
        rows=lambda: show.explain_rows([found.explanation]),
    )
