"""A file appears whole or not at all, and what was there before stays until then."""

from __future__ import annotations

import errno
import os
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest

from labeler.files import delivered, in_hand, locked, new_folder, refuse_one_name, sweep
from labeler.findings import LabelerError

OLD = b"yesterday's labels"


def left_over(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def rule(caught: pytest.ExceptionInfo[LabelerError]) -> str:
    (finding,) = caught.value.findings
    assert caught.value.exit_status == 2
    return finding.rule


def test_a_finished_file_takes_its_name(tmp_path: Path) -> None:
    out = tmp_path / "bags.pdf"
    with delivered(out) as file:
        file.write(b"new")
        assert not out.exists()
    assert out.read_bytes() == b"new"
    assert left_over(tmp_path) == ["bags.pdf"]


def test_whoever_reads_the_old_file_reads_it_to_its_end(tmp_path: Path) -> None:
    """The new file takes the name in one step; it is never written over the old one."""
    out = tmp_path / "bags.pdf"
    out.write_bytes(OLD)
    with out.open("rb") as reading:
        with delivered(out) as file:
            file.write(b"new")
        assert reading.read() == OLD
    assert out.read_bytes() == b"new"


@pytest.mark.parametrize("slip", [RuntimeError, KeyboardInterrupt, SystemExit])
def test_an_error_or_ctrl_c_leaves_what_was_there(
    tmp_path: Path, slip: type[BaseException]
) -> None:
    out = tmp_path / "bags.pdf"
    out.write_bytes(OLD)

    def interrupted() -> None:
        with delivered(out) as file:
            file.write(b"half a ")
            raise slip

    with pytest.raises(slip):
        interrupted()
    assert out.read_bytes() == OLD
    assert left_over(tmp_path) == ["bags.pdf"]


def test_a_killed_program_leaves_no_half_file_under_the_name(tmp_path: Path) -> None:
    out = tmp_path / "bags.pdf"
    out.write_bytes(OLD)
    code = (
        "import sys, time; from pathlib import Path; from labeler.files import delivered\n"
        "with delivered(Path(sys.argv[1])) as f:\n"
        "    f.write(b'half'); f.flush(); print('ready', flush=True); time.sleep(60)\n"
    )
    with subprocess.Popen([sys.executable, "-c", code, str(out)], stdout=subprocess.PIPE) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == b"ready\n"
        child.send_signal(signal.SIGKILL)
        child.wait()
    assert out.read_bytes() == OLD


def test_a_folder_in_the_way_is_said(tmp_path: Path) -> None:
    (tmp_path / "bags.pdf").mkdir()
    with pytest.raises(LabelerError) as caught, delivered(tmp_path / "bags.pdf"):
        pass
    assert rule(caught) == "folder-in-the-way"


@pytest.mark.parametrize("name", ["missing/bags.pdf", "file/bags.pdf"])
def test_a_missing_folder_is_said(tmp_path: Path, name: str) -> None:
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(LabelerError) as caught, delivered(tmp_path / name):
        pass
    assert rule(caught) == "no-such-folder"


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_may_not_be_written_is_said(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(LabelerError) as caught, delivered(tmp_path / "bags.pdf"):
            pass
    finally:
        tmp_path.chmod(0o700)
    assert rule(caught) == "not-writable"


def test_a_folder_that_takes_no_files_is_said() -> None:
    """Not even root makes a file in /proc."""
    with pytest.raises(LabelerError) as caught, delivered(Path("/proc/bags.pdf")):
        pass
    assert rule(caught) == "not-writable"


def test_a_name_no_file_can_have_is_said(tmp_path: Path) -> None:
    with pytest.raises(LabelerError) as caught, delivered(tmp_path / "bags\0.pdf"):
        pass
    assert rule(caught) == "not-writable"


def test_a_name_too_long_is_said(tmp_path: Path) -> None:
    with pytest.raises(LabelerError) as caught, delivered(tmp_path / ("ü" * 200 + ".pdf")) as file:
        file.write(b"x")
    assert rule(caught) == "not-writable"
    assert left_over(tmp_path) == []


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT])
def test_a_full_disk_is_said(tmp_path: Path, number: int) -> None:
    out = tmp_path / "bags.pdf"
    out.write_bytes(OLD)
    with pytest.raises(LabelerError) as caught, delivered(out):
        raise OSError(number, os.strerror(number))
    assert rule(caught) == "disk-full"
    assert out.read_bytes() == OLD
    assert left_over(tmp_path) == ["bags.pdf"]


def test_a_disk_that_is_full_at_the_last_byte_is_said(tmp_path: Path) -> None:
    """The system itself refuses: no file of this process may grow past 4,096 bytes."""
    out = tmp_path / "bags.pdf"
    out.write_bytes(OLD)
    code = (
        "import resource, signal, sys; from pathlib import Path\n"
        "from labeler.files import delivered; from labeler.findings import LabelerError\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))\n"
        "try:\n"
        "    with delivered(Path(sys.argv[1])) as f: f.write(b'x' * 5000)\n"
        "except LabelerError as error: print(error.findings[0].rule)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(out)], capture_output=True, text=True, check=True
    )
    assert done.stdout == "disk-full\n"
    assert out.read_bytes() == OLD
    assert left_over(tmp_path) == ["bags.pdf"]


def test_another_fault_inside_keeps_its_own_name(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError), delivered(tmp_path / "bags.pdf"):
        (tmp_path / "photo.jpg").read_bytes()
    assert left_over(tmp_path) == []


def test_permissions_stay_as_they_were_or_as_usual(tmp_path: Path) -> None:
    out, new = tmp_path / "bags.pdf", tmp_path / "new.pdf"
    out.write_bytes(OLD)
    out.chmod(0o640)
    before = os.umask(0o027)
    try:
        for path in (out, new):
            with delivered(path) as file:
                file.write(b"x")
    finally:
        os.umask(before)
    assert stat.S_IMODE(out.stat().st_mode) == 0o640
    assert stat.S_IMODE(new.stat().st_mode) == 0o640


def test_a_link_keeps_pointing_where_it_did(tmp_path: Path) -> None:
    real, link = tmp_path / "real.pdf", tmp_path / "link.pdf"
    real.write_bytes(OLD)
    link.symlink_to(real)
    with delivered(link) as file:
        file.write(b"new")
    assert link.is_symlink()
    assert real.read_bytes() == b"new"


def test_two_files_of_one_command_do_not_take_one_name(tmp_path: Path) -> None:
    link = tmp_path / "link.csv"
    link.symlink_to(tmp_path / "recall.pdf")
    with pytest.raises(LabelerError) as caught:
        refuse_one_name(tmp_path / "recall.pdf", link)
    assert rule(caught) == "one-name-for-two"
    refuse_one_name(tmp_path / "recall.pdf", tmp_path / "recall.csv")
    refuse_one_name(Path("/dev/null"), Path("/dev/null"))


def test_a_pipe_is_written_to_and_not_replaced(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with subprocess.Popen(["cat", str(pipe)], stdout=subprocess.PIPE) as reader:
        with delivered(pipe) as file:
            file.write(b"through")
        assert reader.stdout is not None
        assert reader.stdout.read() == b"through"
    assert stat.S_ISFIFO(pipe.stat().st_mode)


def test_two_at_once_leave_one_whole_file(tmp_path: Path) -> None:
    out = tmp_path / "bags.pdf"
    with delivered(out) as first:
        first.write(b"1" * 100_000)
        with delivered(out) as second:
            second.write(b"2" * 100_000)
        assert out.read_bytes() == b"2" * 100_000
        time.sleep(0)
    assert out.read_bytes() == b"1" * 100_000
    assert left_over(tmp_path) == ["bags.pdf"]


def a_part(folder: Path, name: str = ".bags.pdf.0123456789ab.part") -> Path:
    """Leave in a folder what a killed command leaves there."""
    part = folder / name
    part.write_bytes(b"%PDF-1.7 half")
    return part


def age(path: Path) -> None:
    os.utime(path, (time.time() - 7200,) * 2)


def test_what_a_killed_command_left_is_swept_by_the_next_file_delivered(tmp_path: Path) -> None:
    part = a_part(tmp_path)
    assert not in_hand(part)
    with delivered(tmp_path / "other.pdf") as file:
        file.write(b"new")
    assert left_over(tmp_path) == ["other.pdf"]


def test_a_file_that_somebody_is_making_is_never_swept(tmp_path: Path) -> None:
    with delivered(tmp_path / "bags.pdf") as file:
        part = Path(file.name)
        age(part)
        assert in_hand(part)
        with delivered(tmp_path / "other.pdf"):
            sweep(tmp_path)
        assert part.exists()
    assert left_over(tmp_path) == ["bags.pdf", "other.pdf"]


def test_a_folder_or_a_ledger_s_copy_is_swept_once_it_is_long_dead(tmp_path: Path) -> None:
    folder = tmp_path / ".site.0123456789ab.part"
    folder.mkdir()
    copies = [
        a_part(tmp_path, f".ledger.sqlite.4711-0a1b2c3d{end}") for end in ("", "-journal", "-wal")
    ]
    mine = [a_part(tmp_path, name) for name in (".notes.part", "bags.0123456789ab.part", ".x.1-2")]
    with new_folder(tmp_path / "web"):
        pass
    assert folder.exists()
    for each in (folder, *copies, *mine):
        age(each)
    with new_folder(tmp_path / "web"):
        pass
    assert left_over(tmp_path) == sorted(["web", *(each.name for each in mine)])


def test_a_sweeper_that_is_faster_than_the_lock_costs_no_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Between the opening of a hidden file and its lock another command may sweep it away."""
    from labeler import files

    lock = files._lock
    swept: list[int] = []

    def late(file: int, wait: bool = False) -> bool:
        if wait and not swept:
            swept.append(file)
            for part in tmp_path.glob(".*.part"):
                part.unlink()
        return lock(file, wait)

    monkeypatch.setattr(files, "_lock", late)
    with delivered(tmp_path / "bags.pdf") as file:
        file.write(b"new")
    assert swept
    assert (tmp_path / "bags.pdf").read_bytes() == b"new"


def test_a_folder_that_can_t_be_locked_gets_a_file_to_lock(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As on Windows, where a folder can't be opened, and over a network."""
    from labeler import files

    lock = files._lock

    def only_files(file: int, wait: bool = False) -> bool:
        return not stat.S_ISDIR(os.fstat(file).st_mode) and lock(file, wait)

    monkeypatch.setattr(files, "_lock", only_files)
    with locked(tmp_path):
        (held,) = tmp_path.iterdir()
        assert in_hand(held)
    assert not in_hand(held)
