"""s20: the wheel built from the source archive, installed in an empty environment, works from another folder."""

from __future__ import annotations

import os
import subprocess
import sys
import venv
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


def quiet(*words: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    env = {k: v for k, v in os.environ.items() if k not in ("PYTHONPATH", "VIRTUAL_ENV")}
    return subprocess.run(words, cwd=cwd, capture_output=True, text=True, env=env)


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Source archive, and the wheel made from it."""
    out = tmp_path_factory.mktemp("dist")
    result = quiet(sys.executable, "-m", "build", "--outdir", str(out), str(ROOT), cwd=out)
    if result.returncode and "CI" not in os.environ and "onnection" in result.stdout + result.stderr:
        pytest.skip("building needs the package index, which cannot be reached")
    assert result.returncode == 0, result.stdout + result.stderr
    return out


def test_wheel_and_archive_hold_the_data(built: Path) -> None:
    """Both carry every file of vehicle_specs and site_template."""
    import tarfile
    import zipfile

    want = {
        p.relative_to(ROOT).as_posix()
        for d in ("vehicle_specs", "site_template")
        for p in (ROOT / d).rglob("*")
        if p.is_file()
    }
    with zipfile.ZipFile(next(built.glob("*.whl"))) as wheel:
        inside = {n.removeprefix("fieldkit/_data/") for n in wheel.namelist() if n.startswith("fieldkit/_data/")}
    with tarfile.open(next(built.glob("*.tar.gz"))) as archive:
        packed = {n.split("/", 1)[1] for n in archive.getnames() if "/" in n}
    assert want - inside == set()
    assert want - packed == set()


def test_the_installed_wheel_makes_the_demo_elsewhere(built: Path, tmp_path: Path) -> None:
    """An empty environment, another working folder, a folder there named like our data: nothing is mixed up."""
    env = tmp_path / "env"
    venv.create(env, with_pip=True)
    bin_ = env / ("Scripts" if os.name == "nt" else "bin")
    work = tmp_path / "work"
    (work / "vehicle_specs").mkdir(parents=True)
    install = quiet(str(bin_ / "python"), "-m", "pip", "install", "-q", str(next(built.glob("*.whl"))), cwd=work)
    assert install.returncode == 0, install.stderr
    for words in (
        ["--version"],
        ["new", "t"],
        ["check", "t"],
        ["demo", "--quick"],
        ["forms", "--build", "unibody-all-wheel-drive"],
    ):
        result = quiet(str(bin_ / "fieldkit"), *words, cwd=work)
        assert result.returncode == 0, (words, result.stdout + result.stderr)
    assert (work / "demo-handbook" / "index.html").is_file()
