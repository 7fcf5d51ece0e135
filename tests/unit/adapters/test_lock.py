"""One service on a store; the lock ends with its process, however that ends."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from sentinel.adapters.process import InstanceLock
from sentinel.errors import SecondInstanceError

HOLD = """
import sys
from pathlib import Path
from sentinel.adapters.process import InstanceLock
lock = InstanceLock(Path(sys.argv[1]))
print("held", flush=True)
sys.stdin.read()
"""


def test_a_second_service_is_refused_and_told_who_is_first(tmp_path: Path) -> None:
    first = InstanceLock(tmp_path / "store.sqlite")
    with pytest.raises(SecondInstanceError) as refusal:
        InstanceLock(tmp_path / "store.sqlite")
    assert str(refusal.value) == (
        f"expected to be the only service on {tmp_path / 'store.sqlite'}, got one running as process {os.getpid()}"
    )
    first.release()


def test_a_released_lock_is_free(tmp_path: Path) -> None:
    InstanceLock(tmp_path / "store.sqlite").release()
    InstanceLock(tmp_path / "store.sqlite").release()


def test_two_stores_have_a_lock_each(tmp_path: Path) -> None:
    first, second = InstanceLock(tmp_path / "a.sqlite"), InstanceLock(tmp_path / "b.sqlite")
    first.release()
    second.release()


def test_a_process_killed_with_signal_9_lets_go(tmp_path: Path) -> None:
    store = tmp_path / "store.sqlite"
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, store], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        with pytest.raises(SecondInstanceError, match=f"process {holder.pid}"):
            InstanceLock(store)
        holder.kill()
        holder.wait(timeout=10)
    InstanceLock(store).release()


def test_a_child_of_the_service_does_not_hold_its_lock(tmp_path: Path) -> None:
    lock = InstanceLock(tmp_path / "store.sqlite")
    with subprocess.Popen(
        [sys.executable, "-c", "print('up', flush=True); input()"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        close_fds=False,
    ) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == b"up\n"
        lock.release()
        InstanceLock(tmp_path / "store.sqlite").release()
        child.communicate(b"\n", timeout=10)


def test_a_folder_that_cannot_be_made_is_an_os_error(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(OSError, match=r"Not a directory|File exists"):
        InstanceLock(tmp_path / "file" / "store.sqlite")
