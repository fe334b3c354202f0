"""Nothing given on a command line is dropped: what counts once may not be given twice."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click
import pytest

from labeler.cli.group import VERBS, labeler, run


def every_option() -> Iterator[tuple[tuple[str, ...], click.Option]]:
    """Yield every option of every command, with the words that lead to the command."""

    def walk(path: tuple[str, ...], command: click.Command, parent: Any = None) -> Iterator[Any]:
        ctx = click.Context(command, parent=parent, **command.context_settings)
        yield from ((path, one) for one in command.get_params(ctx) if isinstance(one, click.Option))
        if isinstance(command, click.Group):
            for name in command.list_commands(ctx):
                verb = command.get_command(ctx, name)
                assert verb is not None
                yield from walk((*path, name), verb, ctx)

    yield from walk((), labeler)


def a_value(option: click.Option) -> list[str]:
    if option.is_flag:
        return []
    choices = getattr(option.type, "choices", None)
    return [str(choices[0])] if choices else ["1"]


ONCE = [(path, option) for path, option in every_option() if not (option.multiple or option.count)]


def test_all_commands_are_looked_at() -> None:
    assert {path[0] for path, _ in ONCE if path} >= VERBS.keys() - {"help"}
    assert ("lot", "assign") in {path for path, _ in ONCE}


@pytest.mark.parametrize(
    ("path", "option"), ONCE, ids=[" ".join((*path, one.opts[0])) for path, one in ONCE]
)
def test_an_option_that_counts_once_is_refused_when_it_is_given_twice(
    path: tuple[str, ...], option: click.Option, capsys: pytest.CaptureFixture[str], tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    once = [option.opts[-1], *a_value(option)]
    assert run([*path, *once, *once]) == 2
    said = capsys.readouterr()
    assert f"{option.opts[0]} is given twice; it counts once" in said.err + said.out
    assert not list(tmp_path.iterdir())


def test_an_option_spelled_in_two_ways_is_still_given_twice(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["--catalog", "a", "--catalog=b", "check"]) == 2
    assert "--catalog is given twice" in capsys.readouterr().err
    assert run(["bags", "--count", "6", "--count=10", "--out", "x.pdf"]) == 2
    assert "--count is given twice" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("bags --sku slough hopper 3/8 --out x", '--sku "slough hopper 3/8". If they are several: '
         "--sku slough --sku hopper."),
        ("bags --out x --lot 263290013 263300011", "--lot 263290013 --lot 263300011."),
        ("lot hold 263290013 --why hooks snap", '--why "hooks snap".'),
        ("lot assign slough hopper 3/8 --count 6", '"slough hopper 3/8". If they are several, give '
         "one at a time."),
        ("reprint slough hopper 3/8=6 --out x", '"slough hopper 3/8=6"'),
        ("lot list --sku slough slough", '--sku "slough slough"'),
        ("lot list --sku slough slough slough", '--sku "slough slough slough".'),
        ("check one.pdf two.pdf", "give one at a time"),
        ("bags slough --out x", "nothing here takes these words: slough."),
    ],
)  # fmt: skip
def test_words_that_nothing_takes_are_told_with_what_to_do(
    words: str, says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(words.split()) == 2
    said = capsys.readouterr()
    assert says in said.err
    assert "unexpected" not in said.err
    assert run([*words.split(), "--help"]) == 0
