"""Documents that fail the build when they no longer say what the code does."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from sentinel.cli.app import parser
from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.verdict import Code
from sentinel.settings.loading import load
from sentinel.settings.models import Settings
from sentinel.settings.reference import TABLES, reference
from sentinel.settings.targets_and_limits import named_set

ROOT = Path(__file__).parents[2]
CORE = ROOT / "sentinel" / "core"


def text_of(path: str) -> str:
    return (ROOT / path).read_text(encoding="utf-8")


def test_admins_guide_ends_with_the_reference_written_from_the_models() -> None:
    assert text_of("config/README.md").endswith(reference())


def test_reference_covers_every_table_of_the_settings() -> None:
    assert set(TABLES) == set(Settings.model_fields)


def test_every_key_that_needs_words_has_them_in_the_reference() -> None:
    unexplained = re.findall(r"^\| `(\w+)` .*\|  \|$", reference(), flags=re.MULTILINE)
    assert set(unexplained) <= {"label", "finish", "base", "opacity", "texture"}


def test_the_guide_lists_every_reason_code_and_no_other() -> None:
    table = text_of("config/commands.md").partition("<!-- reason codes")[2].partition("\n## ")[0]
    listed = re.findall(r"`([a-z0-9-]+)`", "".join(row.split("|")[1] for row in table.splitlines() if row[:1] == "|"))
    assert sorted(listed) == sorted(code.value for code in Code)


def test_admins_guide_lists_every_kind_of_notice() -> None:
    guide = text_of("config/README.md")
    assert all(f"| `{kind.value}` |" in guide for kind in NoticeKind)


def test_the_guide_lists_every_command() -> None:
    guide = text_of("config/commands.md")
    commands = [action for action in parser()._actions if action.dest == "command"]
    assert commands
    for name in commands[0].choices or ():
        assert f"`sentinel {name}" in guide


def test_example_settings_load_and_name_a_target_that_is_there() -> None:
    settings = load(ROOT / "config/sentinel.toml").settings
    assert len(settings.conditions) == 3
    assert all(target.file is not None and target.file.is_file() for target in settings.targets.values())


def test_the_smallest_settings_of_the_readme_are_whole(tmp_path: Path) -> None:
    [text] = re.findall(r"^```toml\n(.*?)^```", text_of("README.md"), re.MULTILINE | re.DOTALL)
    path = tmp_path / "sentinel.toml"
    path.write_text(text)
    settings = load(path).settings
    assert list(settings.conditions) == ["north/satin-240"]
    assert settings.recipients["colour-lead"].recipient.url.file == tmp_path / "colour-lead.url"


def test_map_of_the_code_names_only_files_that_are_there() -> None:
    named = re.findall(r"`((?:sentinel|tests|config|systemd|demo|\.ci)/[\w./-]*)`", text_of("DEVELOPERS.md"))
    assert named
    assert [path for path in named if "*" not in path and not (ROOT / path).exists()] == []


INNER_DOCUMENTS = [path for top in ("sentinel", "tests") for path in sorted((ROOT / top).rglob("*.md"))]


@pytest.mark.parametrize("document", INNER_DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_documents_within_the_tree_name_only_what_is_there(document: Path) -> None:
    text, room = document.read_text(encoding="utf-8"), document.parent
    assert [name for name in re.findall(r"`([\w.-]+/[\w./-]+)`", text) if not _is_there(name, room)] == []
    assert [name for name in re.findall(r"[\w/]+\.py\b", text) if not _is_there(name, room)] == []
    assert [
        name for name in re.findall(r"python -m ((?:sentinel|tests|demo)[\w.]*)", text) if not _is_module(name)
    ] == []
    tables = re.findall(r"^\| module \|.*\n\|.*\n((?:\|.*\n)*)", text, flags=re.MULTILINE)
    rows = [row.split("|")[1] for table in tables for row in table.splitlines()]
    assert [name for row in rows for name in re.findall(r"`(\w+)`", row) if not _is_there(f"{name}.py", room)] == []


@pytest.mark.parametrize("document", sorted(CORE.rglob("*.md")), ids=lambda path: str(path.relative_to(ROOT)))
def test_documents_of_the_core_name_only_what_their_modules_hold(document: Path) -> None:
    named = re.findall(r"`([a-z_]+)\.([A-Za-z_]+)\b[^`]*`", document.read_text(encoding="utf-8"))
    modules = {path.stem: path.read_text(encoding="utf-8") for path in document.parent.glob("*.py")}
    inside = [(module, name) for module, name in named if name != "py" and module != "tests"]
    assert [each for each in inside if not re.search(rf"\b{each[1]}\b", modules.get(each[0], ""))] == []


def _is_there(name: str, room: Path) -> bool:
    """Below the root, the package, its core or the document's folder, with or without its ending."""
    tops = (ROOT, CORE.parent, CORE, room)
    return "N/A" in name or any((top / f"{name}{end}").exists() for top in tops for end in ("", ".py"))


def _is_module(name: str) -> bool:
    path = ROOT / name.replace(".", "/")
    return path.is_dir() or path.with_suffix(".py").exists()


def test_every_shipped_limit_set_can_be_copied_into_the_example(tmp_path: Path) -> None:
    both = text_of("config/sentinel.toml") + text_of("config/limit-sets.toml")
    path = tmp_path / "sentinel.toml"
    path.write_text(both.replace("targets/", f"{ROOT}/config/targets/"), encoding="utf-8")
    settings = load(path).settings
    shipped = {"contract-proof", "contract-proof-strip", "validation-print", "production", "strict-house"}
    assert shipped <= set(settings.limits)
    assert named_set(settings.limits, "contract-proof-strip")["all"]["de00_max"].act == 5.0


def test_every_number_of_the_shipped_limit_sets_says_where_it_is_from() -> None:
    numbers = [line for line in text_of("config/limit-sets.toml").splitlines() if "act =" in line]
    assert numbers
    assert [line for line in numbers if not re.search(r"# \[(memory|ours)\]", line)] == []
