"""``labeler lot weigh``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from labeler.cli import words


@click.command()
@click.argument("code", metavar="LOT")
@click.argument("weights", nargs=-1)
@click.option("--from", "file", metavar="FILE", type=click.Path(path_type=Path),
              help="Weights from a spreadsheet (CSV or XLSX), under a heading such as weight, g "
              "or oz.")  # fmt: skip
@click.option("--unit", type=click.Choice(["g", "oz"]), default="g", show_default=True,
              help="The unit of a number that stands without one.")  # fmt: skip
@click.option("--sure", is_flag=True, help="Take weights that look like a slip as they are.")
@click.option("--key", metavar="TEXT",
              help="Names this request: given again, it is not kept twice.")  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Tell the judgement as JSON.")
@click.pass_obj
def weigh(
    folder: Path, /, code: str, weights: tuple[str, ...], file: Path | None, as_json: bool,
    **asked: Any,
) -> int:  # fmt: skip
    """Judge a lot by the weights of a sample, and keep them.

    Without any weight it says how many to weigh. Exit status 1 if the lot fails. A head's nominal
    weight is no statement of net contents, and this is no official inspection.

    \b
    Examples:
      labeler lot weigh 263290013
      labeler lot weigh 263290013 10.4 10.7 10.6 10.5 10.8 10.6 10.7 10.5 10.6 10.4 10.6 10.7
      labeler lot weigh 263290013 --from scale.csv --unit oz
    """  # noqa: D301
    from labeler.bench.lots import WeighWish, weigh_lot

    if not weights and file is None:
        _tell_sample(folder, code, as_json)
        return 0
    kept, lot = weigh_lot(WeighWish(folder, code, weights, file, **asked))
    judgement = kept.judgement
    if as_json:
        record = judgement.as_json() | {"verdict": judgement.verdict}
        words.tell_json({"done": True, "lot": lot.code, "sku": lot.sku, **record,
                         "said": judgement.sentences()})  # fmt: skip
    else:
        click.echo(f"Lot {lot.code} of {lot.sku}")
        for name, value in _figures(judgement):
            click.echo(f"  {name:<34}{value}")
        click.echo(judgement.sentences())
    return 1 if judgement.verdict == "fail" else 0


def _figures(judgement: Any) -> list[tuple[str, str]]:
    """Return what was reckoned, by the names of NIST Handbook 133."""

    def grams(value: float | None) -> str:
        return "-" if value is None else f"{value:.3f} g"

    return [
        ("labeled weight", grams(judgement.label)),
        ("inspection lot size", f"{judgement.lot_size:,}"),
        ("sample size", f"{judgement.sample} of {judgement.sample_asked} asked for"),
        ("average", grams(judgement.mean)),
        ("average error", grams(judgement.mean_error)),
        ("sample standard deviation", grams(judgement.deviation)),
        ("sample correction factor", _plain(judgement.factor)),
        ("sample error limit (SEL)", grams(judgement.error_limit)),
        ("maximum allowable variation (MAV)", grams(judgement.allowed_variation)),
        ("below the MAV", f"{len(judgement.beyond)}, {judgement.may_exceed or 'none'} may be"),
    ]


def _plain(value: float | None) -> str:
    return "-" if value is None else f"{value:g}"


def _tell_sample(folder: Path, code: str, as_json: bool) -> None:
    from labeler.bench.lots import sample_of

    asked = sample_of(folder, code)
    grams = f"{float(asked.label.grams):.2f} g"
    if as_json:
        words.tell_json({"lot": asked.lot.code, "lot_size": asked.lot.count,
                         "sample": asked.sample, "label": float(asked.label.grams)})  # fmt: skip
        return
    click.echo(
        f"Weigh {asked.sample} of the {words.plural(asked.lot.count, 'jig')} of lot "
        f"{asked.lot.code}, taken at random; each should weigh {asked.label} ({grams})."
    )
