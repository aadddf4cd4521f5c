"""`run.py`: standard library only, installs only when something changed, and never ends in a traceback."""

from __future__ import annotations

import ast
import importlib.util
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parent.parent
PIN = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*==[0-9][0-9a-z.]*")


@pytest.fixture
def run(tmp_path: Path) -> ModuleType:
    """run.py as a module, living in an empty folder of its own."""
    spec = importlib.util.spec_from_file_location("run_under_test", ROOT / "run.py")
    assert spec and spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    module.ROOT = tmp_path
    module.BOOT = tmp_path / ".boot"
    module.VENV = tmp_path / ".venv"
    module.PYTHON = module.VENV / "bin" / "python"
    for name in ("requirements.txt", "requirements-test.txt"):
        (tmp_path / name).write_text("click==8.0.0\n")
    return module


def pretend_installed(run: ModuleType) -> None:
    run.PYTHON.parent.mkdir(parents=True, exist_ok=True)
    run.PYTHON.write_text("")


def pins(name: str) -> list[str]:
    lines = (ROOT / name).read_text(encoding="utf-8").splitlines()
    return [line for line in lines if line and not line.startswith(("#", "-r "))]


def test_it_needs_nothing_but_the_standard_library() -> None:
    tree = ast.parse((ROOT / "run.py").read_text(encoding="utf-8"))
    imported = {
        (alias.name if isinstance(node, ast.Import) else node.module or "").split(".")[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
        for alias in node.names
    }
    assert imported <= set(sys.stdlib_module_names)


@pytest.mark.parametrize("name", ["requirements.txt", "requirements-test.txt"])
def test_requirements_are_names_and_versions_and_nothing_else(name: str) -> None:
    assert pins(name)
    assert [line for line in pins(name) if not PIN.fullmatch(line)] == []
    assert "index" not in (ROOT / name).read_text(encoding="utf-8")


def test_the_runtime_pins_are_the_declared_dependencies() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    declared = {re.split(r"[^a-z0-9-]", line)[0] for line in project["dependencies"]}
    assert {line.split("==")[0] for line in pins("requirements.txt")} == declared


def test_a_word_it_does_not_know_ends_with_2_and_names_the_commands(
    run: ModuleType, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run.main(["mend"]) == 2
    assert "'mend'" in (said := capsys.readouterr().err)
    assert all(command in said for command in ("demo", "test", "wreckwright"))
    assert run.main([]) == 2


def test_help_ends_with_0(run: ModuleType, capsys: pytest.CaptureFixture[str]) -> None:
    assert run.main(["--help"]) == 0
    assert "python3 run.py demo" in capsys.readouterr().out


def test_an_old_python_is_refused_in_words(
    run: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(run, "OLDEST", (99, 0))
    assert run.main(["demo"]) == 1
    assert "needs 99.0 or newer" in capsys.readouterr().err


def test_nothing_is_installed_while_the_stamp_holds(run: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    calls: list[str] = []
    monkeypatch.setattr(run, "install", lambda requirements: (pretend_installed(run), calls.append(requirements.name)))
    monkeypatch.setattr(run, "call_tool", lambda *command: str(run.VENV))
    run.set_up("runtime")
    run.set_up("runtime")
    assert calls == ["requirements.txt"]
    assert (run.VENV / "wreckwright-sources.pth").read_text().strip() == str(run.ROOT / "src")
    (run.ROOT / "requirements.txt").write_text("click==8.0.1\n")
    run.set_up("runtime")
    run.set_up("test")
    run.set_up("test")
    assert calls == ["requirements.txt", "requirements.txt", "requirements-test.txt"]


def test_a_lost_interpreter_is_noticed_in_spite_of_the_stamp(run: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    calls: list[str] = []
    monkeypatch.setattr(run, "install", lambda requirements: (pretend_installed(run), calls.append(requirements.name)))
    monkeypatch.setattr(run, "call_tool", lambda *command: str(run.VENV))
    run.set_up("runtime")
    run.PYTHON.unlink()
    run.set_up("runtime")
    assert len(calls) == 2


def test_uv_is_told_which_interpreter_to_install_into(run: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    calls: list[list[str]] = []
    monkeypatch.setattr(run, "find_uv", lambda: Path("uv"))
    monkeypatch.setattr(run, "call_tool", lambda *command: calls.append([str(word) for word in command]) or "")
    run.install_with_uv(run.ROOT / "requirements.txt")
    install = next(call for call in calls if "pip" in call)
    assert install[install.index("--python") + 1] == str(run.PYTHON)


def test_pip_takes_over_when_uv_fails(run: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    calls: list[list[str]] = []

    def no_uv() -> Path:
        raise run.ToolFailed("no uv here")

    monkeypatch.setattr(run, "find_uv", no_uv)
    monkeypatch.setattr(run, "call_tool", lambda *command: calls.append([str(word) for word in command]) or "")
    run.install(run.ROOT / "requirements.txt")
    assert [call[1:3] for call in calls] == [["-m", "venv"], ["-m", "pip"]]


def test_without_a_network_it_says_what_is_needed_and_ends_with_1(
    run: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fails(*command: object) -> str:
        raise run.ToolFailed("Temporary failure in name resolution")

    monkeypatch.setattr(run, "find_uv", lambda: Path("uv"))
    monkeypatch.setattr(run, "call_tool", fails)
    assert run.main(["demo"]) == 1
    said = capsys.readouterr().err
    assert "could not be installed" in said
    assert "python3-venv" in said
    assert said.count("Temporary failure in name resolution") == 2
    assert "Traceback" not in said


def test_a_tool_that_does_not_exist_is_a_failure_in_words(run: ModuleType) -> None:
    with pytest.raises(run.ToolFailed, match="no-such-tool"):
        run.call_tool("no-such-tool")


def test_all_steps_run_and_any_failure_counts(
    run: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    started: list[str] = []

    def start(*words: str, cwd: Path | None = None) -> int:
        started.append(words[1])
        return 5 if words[1] == "pytest" else 0

    monkeypatch.setattr(run, "set_up", lambda level: None)
    monkeypatch.setattr(run, "start", start)
    # pytest ends with 5 when it finds no test at all; that must not pass.
    assert run.main(["test"]) == 1
    assert started == ["ruff", "mypy", "pytest"]
    assert "Failed: tests" in capsys.readouterr().err


def test_the_check_script_is_the_same_command() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "python3 run.py test" in script
    assert subprocess.run(["bash", "-n", str(ROOT / ".ci" / "run")]).returncode == 0
