"""The built package runs away from its sources, with its data and the demo's machines in it."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from wreckwright.acts.demo import MACHINES

ROOT = Path(__file__).resolve().parent.parent
BUILD = "import sys; from hatchling.build import build_wheel; build_wheel(sys.argv[1])"
WHERE = "import wreckwright; print(wreckwright.__file__)"


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A wheel, built from a copy of the sources and unpacked into an empty folder."""
    sources, site = tmp_path_factory.mktemp("sources"), tmp_path_factory.mktemp("site")
    for folder in ("src", "examples"):
        shutil.copytree(ROOT / folder, sources / folder, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, sources)
    subprocess.run([sys.executable, "-c", BUILD, str(site)], cwd=sources, check=True, capture_output=True)
    (wheel,) = site.glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(site)
    # Nothing may be found by a way back to where it was built.
    shutil.rmtree(sources)
    return site


def run(site: Path, *words: str, **environ: str) -> subprocess.CompletedProcess[str]:
    inherited = os.environ | {"PYTHONPATH": str(site)}
    return subprocess.run([sys.executable, *words], cwd=site, env=inherited | environ, capture_output=True, text=True)


def test_data_types_marker_licence_and_command_are_packed(installed: Path) -> None:
    sources = {
        str(path.relative_to(ROOT / "src"))
        for path in (ROOT / "src").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    packed = {str(path.relative_to(installed)) for path in installed.rglob("*") if path.is_file()}
    assert sources <= packed
    assert "wreckwright/py.typed" in packed
    assert any(name.endswith("LICENSE") for name in packed)
    (entry_points,) = installed.glob("*.dist-info/entry_points.txt")
    assert "wreckwright = wreckwright.cli:main" in entry_points.read_text()


def test_it_answers_away_from_the_sources(installed: Path) -> None:
    assert run(installed, "-c", WHERE).stdout.strip() == str(installed / "wreckwright" / "__init__.py")
    record = installed / "own.toml"
    record.write_text('nickname = "Own"\nmachine_class = "naked"\nyear = 2015\n', encoding="utf-8")
    done = run(installed, "-m", "wreckwright.cli", "check", str(record))
    assert done.returncode == 0, done.stderr
    assert "Own" in done.stdout


def test_the_machines_of_the_demo_are_packed_as_they_are_in_the_sources(installed: Path) -> None:
    packed = {path.name: path.read_bytes() for path in (installed / "wreckwright" / "examples").iterdir()}
    assert packed == {f"{name}.toml": (ROOT / "examples" / f"{name}.toml").read_bytes() for name in MACHINES}


def test_the_demo_and_the_memory_are_set_up_away_from_the_sources(installed: Path, tmp_path: Path) -> None:
    """With the migrations, templates and names that the memory and the pages need."""
    code = (
        "from wreckwright.acts.demo import open_demo\n"
        "from wreckwright.acts.place import place_of\n"
        "from wreckwright.acts.machines import machines\n"
        "from wreckwright.acts.reckon import Reckoner\n"
        "from wreckwright.web.app import create_app\n"
        "place = open_demo(place_of())\n"
        "with Reckoner(place) as reckoner:\n"
        "    create_app(place, reckoner=reckoner)\n"
        "print(*[one.nickname for one in machines(place)], place.folder.name)\n"
    )
    done = run(installed, "-c", code, WRECKWRIGHT_DATA=str(tmp_path / "own"))
    assert done.returncode == 0, done.stderr
    assert done.stdout.split() == ["Sorrel", "Bramble", "Magpie", "own-demo"]
    assert not (tmp_path / "own").exists()
