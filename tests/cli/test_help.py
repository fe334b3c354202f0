"""Help answers for every verb, and imports nothing that takes time."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import click
import pytest

from labeler.cli.group import VERBS, labeler

pytestmark = pytest.mark.daily

Cli = Callable[..., tuple[int, str, str]]


def commands(command: click.Command, words: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """Yield the words that call every command, those that hold further ones included."""
    yield words
    if isinstance(command, click.Group):
        context = click.Context(command)
        for name in command.list_commands(context):
            inner = command.get_command(context, name)
            assert inner is not None, name
            yield from commands(inner, (*words, name))


EVERY = tuple(commands(labeler))


def found(words: tuple[str, ...]) -> click.Command:
    """Return the command that ``words`` call."""
    command: click.Command = labeler
    for word in words:
        assert isinstance(command, click.Group)
        inner = command.get_command(click.Context(command), word)
        assert inner is not None
        command = inner
    return command


def test_the_commands_of_the_main_job_are_there() -> None:
    assert {"align", "bags", "cards", "catalog", "check", "new"} <= set(VERBS)


@pytest.mark.parametrize("words", EVERY, ids=lambda words: " ".join(words) or "labeler")
def test_help_has_an_example_that_calls_the_command(run_cli: Cli, words: tuple[str, ...]) -> None:
    status, out, err = run_cli(*words, "--help")
    assert (status, err) == (0, "")
    assert re.search(r"^  Examples?:\n(?:    .+\n)+", out, re.MULTILINE), out
    examples = re.findall(r"^    (labeler .+)$", out, re.MULTILINE)
    assert examples
    wanted = " ".join(words[:1])
    for example in examples:
        verb = re.sub(r" --catalog \S+", "", example).split()[1:2]
        assert not wanted or verb == [wanted] or words[:1] == ("lot",), example
    assert run_cli(*words, "-h") == (status, out, err)


@pytest.mark.parametrize("words", EVERY, ids=lambda words: " ".join(words) or "labeler")
def test_every_option_of_an_example_exists(words: tuple[str, ...]) -> None:
    """An example that is copied must work: options that were renamed are found here."""
    lines = re.findall(r"^ +(labeler .+)$", found(words).help or "", re.MULTILINE)
    lines = [line for line in lines if "gives no" not in line]
    assert lines
    for line in lines:
        typed = re.sub(r"^labeler( --catalog \S+)?", "", line)
        command: click.Command = labeler
        context = click.Context(command)
        rest = typed.split()
        while isinstance(command, click.Group) and rest:
            inner = command.get_command(context, rest.pop(0))
            assert inner is not None, line
            command = inner
        known = {name for param in command.params for name in param.opts}
        assert {word for word in rest if word.startswith("--")} <= known, line


@pytest.mark.parametrize("words", EVERY, ids=lambda words: " ".join(words) or "labeler")
def test_every_option_says_what_it_is_for(words: tuple[str, ...]) -> None:
    for option in found(words).params:
        if isinstance(option, click.Option):
            assert option.help, option.opts
            assert option.help[0].isupper(), option.help
            assert option.help.endswith("."), option.help


@pytest.mark.parametrize("words", EVERY, ids=lambda words: " ".join(words) or "labeler")
def test_help_fits_a_terminal_of_eighty_letters(run_cli: Cli, words: tuple[str, ...]) -> None:
    """The examples alone may be longer, since they are to be copied in one piece."""
    _, out, _ = run_cli(*words, "--help")
    assert [line for line in out.splitlines() if len(line) > 80 and "labeler" not in line] == []


def test_the_help_of_all_names_every_verb_with_its_line(run_cli: Cli) -> None:
    _, out, _ = run_cli("--help")
    folded = " ".join(out.split())
    for verb, (_, about) in VERBS.items():
        assert f"{verb} {about}" in folded
    assert "legal advice" in out


def test_every_command_is_found_in_its_file() -> None:
    for verb in VERBS:
        assert found((verb,)).name == verb


def test_nothing_typed_gets_the_help_and_is_no_success(run_cli: Cli) -> None:
    status, out, err = run_cli()
    assert (status, out) == (2, "")
    assert "Usage: labeler" in err


def test_the_version_is_told(run_cli: Cli) -> None:
    from labeler import __version__

    assert run_cli("--version") == (0, f"labeler {__version__}\n", "")


LIGHT = {"labeler", "click", "typing_extensions", "colorama", "__future__"}
"""What may be imported before a verb is called, beside the standard library."""


@pytest.mark.parametrize("typed", [["--help"], ["--version"], ["nothing"]])
def test_the_way_to_the_verbs_imports_nothing_heavy(typed: list[str]) -> None:
    code = (
        "import sys; before = set(sys.modules)\n"
        "from labeler.cli.group import run\n"
        f"run({typed!r})\n"
        "print(*sorted({name.partition('.')[0] for name in set(sys.modules) - before}))"
    )
    did = subprocess.run(
        [sys.executable, "-I", "-c", code], capture_output=True, text=True, check=True
    )
    imported = set(did.stdout.splitlines()[-1].split())
    assert "labeler" in imported
    assert imported - LIGHT - sys.stdlib_module_names == set()


def test_the_way_to_the_verbs_imports_no_other_room() -> None:
    code = (
        "import sys\nfrom labeler.cli.group import run\nrun(['--help'])\n"
        "print(*sorted(name for name in sys.modules if name.startswith('labeler')))"
    )
    did = subprocess.run(
        [sys.executable, "-I", "-c", code], capture_output=True, text=True, check=True
    )
    rooms = set(did.stdout.splitlines()[-1].split())
    assert rooms <= {
        "labeler", "labeler.cli", "labeler.cli.group", "labeler.findings", "labeler.memory"
    }  # fmt: skip


def test_the_program_is_called_as_a_module_too() -> None:
    did = subprocess.run(
        [sys.executable, "-m", "labeler", "--version"], capture_output=True, text=True, check=True
    )
    assert did.stdout.startswith("labeler ")


def test_the_script_that_is_installed_leads_to_the_same_place() -> None:
    script = Path(sys.executable).with_name("labeler")
    if not script.exists():
        pytest.skip("the project is not installed beside this Python")
    did = subprocess.run([str(script), "bagz"], capture_output=True, text=True, check=False)
    assert did.returncode == 2
    assert "Did you mean 'bags'?" in did.stderr
