"""`run.py`: standard library only, installs only when something changed, and never ends in a traceback."""

from __future__ import annotations

import ast
import importlib.metadata
import importlib.util
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from types import ModuleType

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

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


def name_of(requirement: str) -> str:
    return re.split(r"[^a-z0-9-]", requirement)[0]


def test_the_runtime_pins_above_the_line_are_the_declared_dependencies() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    wanted, pulled_in = (ROOT / "requirements.txt").read_text(encoding="utf-8").split("# ----\n")
    assert {name_of(line) for line in wanted.splitlines() if line[0] != "#"} == set(
        map(name_of, project["dependencies"])
    )
    assert pulled_in.strip()


def test_nothing_is_pinned_twice_and_the_lists_are_in_order() -> None:
    names = [name_of(pin) for name in ("requirements.txt", "requirements-test.txt") for pin in pins(name)]
    assert [name for name in names if names.count(name) > 1] == []
    for name in ("requirements.txt", "requirements-test.txt"):
        for block in (ROOT / name).read_text(encoding="utf-8").split("# ----\n"):
            listed = [line for line in block.splitlines() if line and not line.startswith(("#", "-r "))]
            assert listed == sorted(listed, key=name_of)


@pytest.mark.parametrize("name", ["requirements.txt", "requirements-test.txt"])
def test_below_the_line_stands_what_the_packages_above_pull_in_and_no_more(name: str) -> None:
    """Followed from package to package by what the installed ones say they need."""
    above, below = (ROOT / name).read_text(encoding="utf-8").split("# ----\n")
    wanted = {name_of(line) for line in above.splitlines() if not line.startswith(("#", "-r "))}
    needed: set[str] = set()
    waiting = list(wanted)
    while waiting:
        for requirement in map(Requirement, importlib.metadata.requires(waiting.pop()) or ()):
            package = canonicalize_name(requirement.name)
            if package not in needed and (requirement.marker is None or requirement.marker.evaluate({"extra": ""})):
                needed.add(package)
                waiting.append(package)
    elsewhere = wanted if name == "requirements.txt" else wanted | set(map(name_of, pins("requirements.txt")))
    assert needed - elsewhere == set(map(name_of, below.split()))


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


@pytest.mark.parametrize(("said", "tries"), [("invalid peer certificate: UnknownIssuer", 2), ("no such package", 1)])
def test_uv_asks_the_system_about_a_certificate_that_it_does_not_know(
    run: ModuleType, monkeypatch: pytest.MonkeyPatch, said: str, tries: int
) -> None:
    environs: list[dict[str, str] | None] = []

    def call(*command: object, more_environ: dict[str, str] | None = None) -> str:
        if "pip" in command:
            environs.append(more_environ)
            if not more_environ:
                raise run.ToolFailed(said)
        return ""

    monkeypatch.setattr(run, "find_uv", lambda: Path("uv"))
    monkeypatch.setattr(run, "call_tool", call)
    if tries == 2:
        run.install_with_uv(run.ROOT / "requirements.txt")
        assert environs[1] == {"UV_SYSTEM_CERTS": "true", "UV_NATIVE_TLS": "true"}
    else:
        with pytest.raises(run.ToolFailed, match=said):
            run.install_with_uv(run.ROOT / "requirements.txt")
    assert len(environs) == tries


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
    monkeypatch.setattr(run, "make_sure_of_browser", lambda: started.append("browser"))
    monkeypatch.setattr(run, "start", start)
    # pytest ends with 5 when it finds no test at all; that must not pass.
    assert run.main(["test"]) == 1
    assert started == ["browser", "ruff", "mypy", "pytest"]
    assert "Failed: tests" in capsys.readouterr().err


class Computer:
    """What `run.py` may find and call when it looks for a browser."""

    def __init__(self, run: ModuleType, monkeypatch: pytest.MonkeyPatch, *, commands: set[str], user_id: int) -> None:
        self.commands = commands
        self.installs = {"chromium"}
        self.fails = ""
        self.called: list[list[str]] = []
        self.run = run
        monkeypatch.setattr(run.os, "environ", {})
        monkeypatch.setattr(run.shutil, "which", self.which)
        monkeypatch.setattr(run.os, "geteuid", lambda: user_id, raising=False)
        monkeypatch.setattr(run, "call_tool", self.call)

    def which(self, name: str) -> str | None:
        name = name.removeprefix("/bin/")
        return f"/bin/{name}" if name in self.commands else None

    def call(self, *command: str) -> str:
        words = list(command)
        self.called.append(words)
        if self.fails and self.fails in words:
            raise self.run.ToolFailed("E: Temporary failure resolving the mirror")
        if "install" in words:
            self.commands |= self.installs
        return ""


@pytest.fixture
def debian(run: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A system that says it is Debian, whatever the one is on which the tests run."""
    (tmp_path / "debian_version").write_text("12\n")
    true_path = run.Path
    monkeypatch.setattr(
        run, "Path", lambda name: true_path(tmp_path / "debian_version" if name == "/etc/debian_version" else name)
    )


@pytest.mark.parametrize("browser", ["chromium", "chromium-browser", "google-chrome"])
def test_a_browser_that_is_there_is_left_alone(
    run: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], debian: None, browser: str
) -> None:
    computer = Computer(run, monkeypatch, commands={browser, "apt-get"}, user_id=0)
    run.make_sure_of_browser()
    assert computer.called == []
    assert capsys.readouterr().err == ""
    # The tests are told which one was found.
    assert run.clean_environ()["WRECKWRIGHT_CHROMIUM"] == f"/bin/{browser}"


def test_a_browser_that_is_named_goes_before_all_others(
    run: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    Computer(run, monkeypatch, commands={"chromium", "mine"}, user_id=1000)
    run.os.environ["WRECKWRIGHT_CHROMIUM"] = "mine"
    run.make_sure_of_browser()
    assert run.os.environ["WRECKWRIGHT_CHROMIUM"] == "/bin/mine"
    run.os.environ["WRECKWRIGHT_CHROMIUM"] = "not-there"
    run.make_sure_of_browser()
    assert "There is no Chromium" in capsys.readouterr().err


def test_root_on_debian_gets_a_browser_with_one_update_and_no_question(
    run: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], debian: None
) -> None:
    computer = Computer(run, monkeypatch, commands={"apt-get"}, user_id=0)
    run.make_sure_of_browser()
    run.make_sure_of_browser()
    update, install = computer.called
    assert update[-1] == "update"
    assert install[install.index("install") :] == [
        "install", "--yes", "--no-install-recommends", "chromium", "fonts-dejavu-core",
    ]  # fmt: skip
    assert all(call[:2] == ["env", "DEBIAN_FRONTEND=noninteractive"] and "sudo" not in call for call in computer.called)
    said = capsys.readouterr().err
    assert "installing chromium fonts-dejavu-core" in said
    assert "There is no Chromium" not in said


@pytest.mark.parametrize(
    ("commands", "user_id"), [({"apt-get", "sudo"}, 1000), ({"sudo"}, 0)], ids=["not root", "no apt-get"]
)
def test_without_the_right_to_install_it_tells_what_to_install_and_goes_on(
    run: ModuleType,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    debian: None,
    commands: set[str],
    user_id: int,
) -> None:
    computer = Computer(run, monkeypatch, commands=commands, user_id=user_id)
    run.make_sure_of_browser()
    assert computer.called == []
    said = capsys.readouterr().err
    assert "apt-get install --no-install-recommends chromium fonts-dejavu-core" in said
    assert "CI=true" in said


def test_root_elsewhere_than_on_debian_is_only_told(
    run: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    true_path = run.Path
    monkeypatch.setattr(
        run, "Path", lambda name: true_path(tmp_path / "none" if name == "/etc/debian_version" else name)
    )
    computer = Computer(run, monkeypatch, commands={"apt-get"}, user_id=0)
    run.make_sure_of_browser()
    assert computer.called == []
    assert "There is no Chromium" in capsys.readouterr().err


@pytest.mark.parametrize("step", ["update", "install"])
def test_an_installation_that_fails_is_told_with_its_reason_and_no_end_of_the_run(
    run: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], debian: None, step: str
) -> None:
    computer = Computer(run, monkeypatch, commands={"apt-get"}, user_id=0)
    computer.fails = step
    run.make_sure_of_browser()
    said = capsys.readouterr().err
    assert "E: Temporary failure resolving the mirror" in said
    assert "There is no Chromium" in said


def test_a_package_that_brings_no_browser_is_noticed(
    run: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], debian: None
) -> None:
    computer = Computer(run, monkeypatch, commands={"apt-get"}, user_id=0)
    computer.installs = set()
    run.make_sure_of_browser()
    assert len(computer.called) == 2
    assert "There is no Chromium" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "becomes"),
    [
        (["demo", "--no-open", "--port", "0"], ["-m", "wreckwright.cli", "demo", "--no-open", "--port", "0"]),
        (["wreckwright", "list"], ["-m", "wreckwright.cli", "list"]),
    ],
)
def test_words_are_passed_on(
    run: ModuleType, monkeypatch: pytest.MonkeyPatch, words: list[str], becomes: list[str]
) -> None:
    seen: list[list[str]] = []

    def become(*words: str) -> int:
        seen.append(list(words))
        return 7

    monkeypatch.setattr(run, "set_up", lambda level: None)
    monkeypatch.setattr(run, "become", become)
    assert run.main(words) == 7
    assert seen == [becomes]


@pytest.mark.skipif(os.name == "nt", reason="there it stays the parent")
def test_signals_reach_the_program_itself_because_it_takes_the_place_of_run_py(tmp_path: Path) -> None:
    # The interpreter of the environment is a link to the one that runs the tests.
    code = (
        "import os, run, sys\n"
        "from pathlib import Path\n"
        "run.PYTHON = Path(sys.executable)\n"
        "print(os.getpid(), flush=True)\n"
        "run.become('-c', 'import os; print(os.getpid()); raise SystemExit(5)')\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True)
    before, after = done.stdout.split()
    assert before == after
    assert done.returncode == 5


def test_the_check_script_is_the_same_command() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "python3 run.py test" in script
    assert subprocess.run(["bash", "-n", str(ROOT / ".ci" / "run")]).returncode == 0
