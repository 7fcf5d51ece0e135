"""The files under systemd/, judged by systemd's own tools, which must be there (Debian package systemd)."""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from sentinel.adapters.process import Supervision
from sentinel.settings.loading import load

SYSTEMD = Path(__file__).resolve().parents[2] / "systemd"
THRESHOLD = "15"  # tenths of systemd-analyze's exposure level, 0 best, 100 worst
PROGRAM = "/opt/sentinel/bin/sentinel"


def run(tool: str, *arguments: str | Path, **environ: str) -> subprocess.CompletedProcess[str]:
    found = shutil.which(tool, path=os.environ["PATH"] + ":/usr/bin:/bin")
    if found is None:
        pytest.fail(f"expected the program {tool}, got none: install the package systemd")
    return subprocess.run(
        [found, *arguments],
        check=False,
        capture_output=True,
        text=True,
        timeout=60,
        env=os.environ | environ,
    )


def copied(folder: Path, old: str = "", new: str = "") -> Path:
    """The unit with `old` replaced and, as verify wants the program to be there, one that is."""
    text = (SYSTEMD / "sentinel.service").read_text()
    assert PROGRAM in text
    assert old in text
    copy = folder / "sentinel.service"
    copy.write_text(text.replace(old, new).replace(PROGRAM, sys.executable))
    return copy


def values(key: str) -> list[str]:
    """Every value the unit gives to `key`."""
    text = (SYSTEMD / "sentinel.service").read_text()
    return re.findall(rf"^{key}=(.*)$", text, flags=re.MULTILINE)


def verified(unit: Path) -> str:
    """What verify complains of; it returns 0 for a misspelt directive, so its words count."""
    result = run("systemd-analyze", "verify", "--man=no", unit)
    return result.stderr or f"exit code {result.returncode}" * (result.returncode != 0)


def exposed(unit: Path) -> subprocess.CompletedProcess[str]:
    return run("systemd-analyze", "security", "--offline=true", f"--threshold={THRESHOLD}", unit)


def test_verify_finds_nothing_to_say(tmp_path: Path) -> None:
    assert verified(copied(tmp_path)) == ""


def test_verify_would_find_a_misspelt_directive(tmp_path: Path) -> None:
    complaint = verified(copied(tmp_path, "WatchdogSec=", "WatchdogSeconds="))
    assert re.search(r"Unknown key( name)? 'WatchdogSeconds'", complaint)


def test_verify_finds_nothing_to_say_of_the_drop_folder_example(tmp_path: Path) -> None:
    unit = copied(tmp_path)
    example = (SYSTEMD / "drop-folder.conf").read_text()
    assert "\n#BindPaths=" in example
    (tmp_path / "sentinel.service.d").mkdir()
    drop_in = tmp_path / "sentinel.service.d" / "drop-folder.conf"
    drop_in.write_text(example.replace("\n#BindPaths=", "\nBindPaths="))
    assert verified(unit) == ""
    drop_in.write_text(drop_in.read_text().replace("BindPaths=", "BindPath="))
    assert re.search(r"Unknown key( name)? 'BindPath'", verified(unit))


def test_exposure_is_at_most_one_and_a_half(tmp_path: Path) -> None:
    result = exposed(copied(tmp_path))
    assert result.returncode == 0, result.stdout


def test_exposure_counts_a_sandbox_left_open(tmp_path: Path) -> None:
    opened = exposed(copied(tmp_path, "SystemCallFilter=", "#SystemCallFilter="))
    assert opened.returncode != 0


def test_only_exit_codes_that_do_not_heal_stop_the_restarts() -> None:
    """2: configuration refused. 4: a second instance. 5, a store that cannot be opened, may heal."""
    assert values("Restart") == ["on-failure"]
    assert values("RestartPreventExitStatus") == ["2 4"]


def test_mail_chat_and_name_lookup_have_their_address_families() -> None:
    """AF_UNIX serves the notify socket and local name services."""
    assert set(values("RestrictAddressFamilies")[0].split()) == {"AF_UNIX", "AF_INET", "AF_INET6"}
    assert values("PrivateNetwork") == []


def asked_of_systemd(folder: Path, *words: str) -> list[str]:
    """What the command for root gives to systemd-run, for which a stand-in is taken."""
    stand_in = folder / "systemd-run"
    stand_in.write_text("#!/bin/sh\nprintf '%s\\n' \"$@\"\n")
    stand_in.chmod(0o755)
    unit = SYSTEMD / "sentinel.service"
    path = f"{folder}:{os.environ['PATH']}"
    return run("sh", SYSTEMD / "sentinel-command", *words, PATH=path, SENTINEL_UNIT=str(unit)).stdout.splitlines()


def test_the_first_settings_are_written_by_root_itself(tmp_path: Path) -> None:
    """Before there are any, there is nothing by which it could run as the service does."""
    stand_in = tmp_path / "program"
    stand_in.write_text("#!/bin/sh\nprintf '%s\\n' \"$@\"\n")
    stand_in.chmod(0o755)
    done = run("sh", SYSTEMD / "sentinel-command", "init", "--site", "a b", SENTINEL_PROGRAM=str(stand_in))
    assert done.stdout.splitlines() == ["init", "--site", "a b"]


def test_the_command_has_the_user_settings_credentials_and_sandbox_of_the_service(tmp_path: Path) -> None:
    text = (SYSTEMD / "sentinel.service").read_text().partition("[Service]")[2]
    lines = [line for line in text.partition("[Install]")[0].splitlines() if re.match(r"[A-Za-z]+=", line)]
    stays = ("Type", "Exec", "Timeout", "Watchdog", "Restart", "WorkingDirectory", "MemoryHigh")
    asked = asked_of_systemd(tmp_path, "status")
    properties = [word.removeprefix("--property=") for word in asked if word.startswith("--property=")]
    assert properties == [line for line in lines if not line.startswith(stays)]
    assert asked[-2:] == [PROGRAM, "status"]
    assert values("ExecStart") == [f"{PROGRAM} run"]


OTHERS = ("sentinel-telltale.service", "sentinel-again.service")


@pytest.mark.parametrize("name", OTHERS)
def test_the_other_units_are_whole_and_shut_in(tmp_path: Path, name: str) -> None:
    copied(tmp_path)
    for other in (*OTHERS, "sentinel-again.timer"):
        text = (SYSTEMD / other).read_text().replace(PROGRAM, sys.executable)
        (tmp_path / other).write_text(text.replace("/usr/bin/systemctl", sys.executable))
    assert verified(tmp_path / name) == ""
    assert exposed(tmp_path / name).returncode == 0


def test_a_failure_is_told_and_tried_again() -> None:
    assert values("OnFailure") == ["sentinel-telltale.service sentinel-again.timer"]
    text = (SYSTEMD / "sentinel-telltale.service").read_text()
    assert f"\nExecStart={PROGRAM} notify stopped\n" in text
    for key in ("User", "StateDirectory", "LoadCredential"):
        assert f"\n{key}={values(key)[0]}\n" in text
    assert "\nOnActiveSec=15min\n" in (SYSTEMD / "sentinel-again.timer").read_text()


def test_a_loop_of_crashes_ends_in_a_failure() -> None:
    """So many starts, each after its wait, fit well into the time."""
    within, most, wait = values("StartLimitIntervalSec")[0], values("StartLimitBurst")[0], values("RestartSec")[0]
    assert (within, most, wait) == ("30min", "30", "15s")


def test_the_configuration_of_the_readme_fits_the_unit(tmp_path: Path) -> None:
    blocks = re.findall(r"(?ms)^ *```toml\n(.*?)^ *```$", (SYSTEMD / "README.md").read_text())
    config = tmp_path / "sentinel.toml"
    config.write_text("\n".join(blocks))
    settings = load(config).settings
    free = (Path("/var/lib") / values("StateDirectory")[0], Path(values("ReadWritePaths")[0].strip("-")))
    changed = (*settings.folders.drop, settings.folders.archive, settings.folders.put_aside, settings.store.path)
    assert [path for path in changed if not any(path.is_relative_to(root) for root in free)] == []
    prefix = values("LoadCredential")[0].split(":")[0]
    assert settings.recipients["colour-team"].url_credential == f"{prefix}_colour-team"


def test_the_command_hands_every_argument_on_as_it_is(tmp_path: Path) -> None:
    """systemd-run(1) expands a `$` in an argument and takes `$$` for one; a stand-in shows them."""
    given = ["check", "/srv/a b.txt", "/srv/$HOME.txt", "", "it's"]
    asked = asked_of_systemd(tmp_path, *given)
    assert asked[asked.index(PROGRAM) + 1 :] == [word.replace("$", "$$") for word in given]


def test_sysusers_makes_the_service_a_member_of_those_who_drop(tmp_path: Path) -> None:
    (tmp_path / "etc").mkdir()
    result = run("systemd-sysusers", f"--root={tmp_path}", SYSTEMD / "sentinel.sysusers")
    assert result.returncode == 0, result.stderr
    passwd = (tmp_path / "etc/passwd").read_text()
    assert re.search(r"^sentinel:.*:/var/lib/sentinel:/usr/sbin/nologin$", passwd, re.MULTILINE)
    group = (tmp_path / "etc/group").read_text()
    assert re.search(r"^print-room:x:\d+:sentinel$", group, re.MULTILINE)


@pytest.fixture
def room(tmp_path: Path) -> Path:
    """The folders as systemd-tmpfiles makes them, owned by whoever runs the tests."""
    text = (SYSTEMD / "sentinel.tmpfiles").read_text()
    owner = re.compile(r"(?m)^(d .* \d{4}) \S+ +\S+")
    config = tmp_path / "sentinel.conf"
    config.write_text(owner.sub(rf"\1 {os.geteuid()} {os.getegid()}", text))
    result = run("systemd-tmpfiles", "--create", f"--root={tmp_path}", config)
    assert (result.returncode, result.stderr) == (0, "")
    return tmp_path


def test_the_credentials_are_for_root_alone(room: Path) -> None:
    assert re.search(
        r"^d +/etc/sentinel/credentials +0700 root +root ",
        (SYSTEMD / "sentinel.tmpfiles").read_text(),
        re.MULTILINE,
    )
    assert (room / "etc/sentinel/credentials").stat().st_mode & 0o7777 == 0o700


def test_the_group_can_read_and_take_away_what_was_dropped_under_umask_077(room: Path) -> None:
    drop = room / "srv/print-room/drop"
    script = "umask 077; mkdir -p north/satin-240; echo a >north/satin-240/a.txt"
    subprocess.run(["sh", "-c", script], check=True, cwd=drop)
    assert drop.stat().st_mode & 0o7777 == 0o2770
    assert (drop / "north/satin-240").stat().st_mode & 0o7777 == 0o2770
    assert (drop / "north/satin-240/a.txt").stat().st_mode & 0o777 == 0o660


def test_ready_and_status_are_the_datagram_of_systemd_notify(tmp_path: Path) -> None:
    name = str(tmp_path / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.settimeout(5)
        manager.bind(name)
        theirs = ("--no-block", "--ready", "--status=watching ΔE")
        assert run("systemd-notify", *theirs, NOTIFY_SOCKET=name).returncode == 0
        Supervision({"NOTIFY_SOCKET": name}).ready("watching ΔE")
        published, ours = (sorted(manager.recv(4096).splitlines()) for _ in range(2))
    assert ours == published
