"""The counter counts what it says, held against a small planted house."""

from __future__ import annotations

import textwrap
from pathlib import Path

import pytest

from tests.house.count import as_text, counted
from tests.house.modules import Module, circles, imports_of, read
from tests.house.watching import watch

HOUSE = {
    "__init__.py": '"""The house."""\n',
    "__main__.py": '''
        """Starts another process and a thread, and ends the one and awaits the other."""

        import subprocess
        import sys
        import threading

        from labeler import work

        if sys.argv[1:] == ["other"]:
            work.in_the_other_process()
            print("ready", flush=True)
            sys.stdin.read()
        else:
            with subprocess.Popen(
                [sys.executable, "-m", "labeler", "other"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
            ) as other:
                other.stdout.readline()
                other.kill()
            thread = threading.Thread(target=work.in_a_thread)
            thread.start()
            thread.join()
            sys.exit(3 if sys.argv[1:] == ["fail"] else 0)
        ''',
    "work.py": '''
        """Work."""

        def in_the_other_process():
            import iniconfig  # a library of one module

            return iniconfig

        def in_a_thread():
            return Thing().one()

        def never():
            return None

        class Thing:
            """A class."""

            def one(self):
                return [n for n in range(3)]
        ''',
}


@pytest.fixture
def planted(tmp_path: Path) -> Path:
    """A checkout of the small house."""
    for name, text in HOUSE.items():
        path = tmp_path / "tree" / "labeler" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(textwrap.dedent(text).lstrip())
    return tmp_path / "tree"


def module(text: str, name: str = "labeler.one") -> Module:
    """A module of this text."""
    return Module(name, textwrap.dedent(text).lstrip("\n"))


def house(**texts: str) -> dict[str, Module]:
    """Modules by their names within the house, two underscores for a dot; a package ends in one."""
    found = {"labeler": Module("labeler", "", is_package=True)}
    for key, text in texts.items():
        name = "labeler." + key.rstrip("_").replace("__", ".")
        found[name] = Module(name, textwrap.dedent(text), key.endswith("_"))
    return found


# --------------------------------------------------------------------------------------- lines


def test_blanks_comments_and_docstrings_are_no_code() -> None:
    one = module(
        '''
        """What it is for,
        in two lines."""

        # a remark
        import os  # 1
        from a import (  # 2
            b,  # 3
        )  # 4

        LIMIT = 3  # 5
        """Of what, the sixth."""

        TEXT = """  a text, seventh

        and eighth, with a blank line between"""


        class A:  # 9
            """A class."""

            def f(self):  # 10
                "One line."
                # nothing
                return (  # 11
                    1  # 12
                )  # 13
        '''
    )
    assert len(one.code) == 13
    assert len(one.remarks) == 1
    assert one.import_lines == 4
    assert one.bodies == [3]
    assert one.classes == {"A"}
    assert one.lines == 26


def test_a_body_is_counted_without_its_docstring_and_head() -> None:
    one = module(
        '''
        @mark
        def short(
            a,
        ):
            """Words."""
            b = a

            return b

        async def empty():
            """Only words."""

        def long():
            a = 1
            def inner():
                return 2
            b = 2
            return a + b
        '''
    )
    assert sorted(one.bodies) == [0, 1, 2, 5]


# ------------------------------------------------------------------------------------- imports


def test_imports_are_told_by_where_they_stand() -> None:
    found = imports_of(
        house(
            a="import labeler.b\nfrom labeler import c\n",
            b="def f():\n    from labeler.c import X\n",
            c="from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from labeler.d import Y\n",
            d="import importlib\ndef f():\n    importlib.import_module('labeler.a')\n",
        )
    )
    assert found.top["labeler.a"] == {"labeler.b", "labeler.c"}
    assert found.deferred["labeler.b"] == {"labeler.c"}
    assert found.typing["labeler.c"] == {"labeler.d"}
    assert found.deferred["labeler.d"] == {"labeler.a"}
    assert found.users["labeler.c"] == {"labeler.a", "labeler.b"}


@pytest.mark.parametrize("line", ["from .inner import X", "from labeler.room.inner import X"])
def test_relative_imports_and_a_package_that_hands_on(line: str) -> None:
    found = imports_of(
        house(
            room_=f"{line}\n",
            room__inner="from . import other\nX = 1\n",
            room__other="from ..far import Z\n",
            far="Z = 1\n",
            user="from labeler.room import X\n",
        )
    )
    assert found.top["labeler.room.inner"] == {"labeler.room.other"}
    assert found.top["labeler.room.other"] == {"labeler.far"}
    assert found.top["labeler.user"] == {"labeler.room"}
    assert found.users["labeler.room.inner"] == {"labeler.user"}


def test_a_package_that_uses_what_it_imports_is_a_user() -> None:
    found = imports_of(house(room_="from .inner import X\nY = X + 1\n", room__inner="X = 1\n"))
    assert found.users["labeler.room.inner"] == {"labeler.room"}


def test_names_that_a_package_looks_up_when_asked_are_followed() -> None:
    face = """
    import importlib
    FACE = {"X": "labeler.room.inner", "Y": "other"}
    def __getattr__(name):
        return getattr(importlib.import_module(FACE[name]), name)
    """
    found = imports_of(
        house(
            room_=face,
            room__inner="",
            room__other="from labeler.room import X\n",
            user="from labeler.room import X, Y\n",
        )
    )
    assert found.deferred["labeler.room"] == {"labeler.room.inner", "labeler.room.other"}
    assert found.users["labeler.room.inner"] == {"labeler.user", "labeler.room.other"}
    assert found.users["labeler.room.other"] == {"labeler.user"}
    assert circles(found.deferred) == []
    both = {name: found.top[name] | found.deferred[name] for name in found.top}
    assert circles(both) == [["labeler.room", "labeler.room.other"]]


def test_circles_are_found_whole_and_apart() -> None:
    edges = {"a": {"b"}, "b": {"c"}, "c": {"a", "d"}, "d": {"e"}, "e": {"d"}, "f": {"a"}}
    assert circles(edges) == [["a", "b", "c"], ["d", "e"]]
    edges["d"] = set()
    assert circles(edges) == [["a", "b", "c"]]
    long_way = {str(n): {str(n + 1)} for n in range(5_000)} | {"5000": {"0"}}
    assert [len(one) for one in circles(long_way)] == [5_001]


# ------------------------------------------------------------------------------------ the table


def test_the_table_of_a_planted_house() -> None:
    figures = counted(
        house(
            a="from labeler.b import f\nfrom labeler.c import g\nclass Line: pass\n",
            b="def f():\n    from labeler.a import Line\n    return Line\nclass Line: pass\n",
            c="class Other:\n    class Line: pass\ndef g(): return 1\n" + "#\n" * 900,
        )
    )
    assert figures["files"] == 4
    assert figures["code lines"] == 3 + 4 + 3
    assert figures["functions"] == figures["functions of at most 3 lines"] == 2
    assert figures["import lines"] == 3
    assert figures["largest module, lines"] == 903
    assert figures["modules over 900 lines"] == 1
    assert figures["modules imported by a single other module"] == 3
    assert figures["  of them under 60 lines"] == 2
    assert figures["circles, imports at the top"] == 0
    assert figures["circles, imports in functions too"] == 1
    assert figures["class names in two or more modules"] == 1
    assert figures["named"]["class names in two or more modules"] == {
        "Line": ["labeler.a", "labeler.b", "labeler.c"]
    }
    assert "  labeler.a labeler.b" in as_text(figures)


def test_a_folder_without_the_program_is_refused(planted: Path, tmp_path: Path) -> None:
    assert set(read(planted)) == {"labeler", "labeler.__main__", "labeler.work"}
    with pytest.raises(FileNotFoundError, match="is no checkout"):
        read(tmp_path)


# ---------------------------------------------------------------------------------- what runs


def test_threads_and_processes_that_are_killed_are_watched_too(
    planted: Path, tmp_path: Path
) -> None:
    seen = watch(planted, [], tmp_path, calls=True)
    assert (seen.status, seen.processes) == (0, 2), seen.words
    names = {name for _, _, name in seen.functions}
    assert names == {"in_the_other_process", "in_a_thread", "Thing.one"}
    assert {Path(file).name for file in seen.files} == {"work.py"}
    assert "iniconfig" in seen.libraries


def test_a_command_that_fails_is_told(planted: Path, tmp_path: Path) -> None:
    seen = watch(planted, ["fail"], tmp_path, calls=False)
    assert seen.status == 3
    assert seen.functions == frozenset()
