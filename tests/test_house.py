"""The house: arrows run one way, the core is pure, and a cold start stays light."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PURE = (
    "errors.py",
    "exact",
    "cycles",
    "craft",
    "plan",
    "shape",
    "song",
    "form",
    "hostmap",
    "follow",
    "cues",
    "lay",
    "learn",
    "show",
)
SHELLS = {
    "socket",
    "asyncio",
    "threading",
    "subprocess",
    "time",
    "pathlib",
    "os",
    "tempfile",
    "select",
    "rtmidi",
}


def test_the_arrows_run_one_way():
    tool = Path(sys.executable).with_name("lint-imports")
    done = subprocess.run([tool, "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout


def _imports(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {name.name.split(".")[0] for name in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module.split(".")[0])
    return found


def _pure_files() -> list[Path]:
    return sorted(
        path
        for part in PURE
        for path in (
            [ROOT / "bridge" / part] if part.endswith(".py") else (ROOT / "bridge" / part).rglob("*.py")
        )
    )


@pytest.mark.parametrize("path", _pure_files(), ids=lambda path: str(path.relative_to(ROOT)))
def test_the_pure_part_imports_no_socket_thread_clock_or_file(path):
    assert not _imports(path) & SHELLS


def _loaded_by(statement: str) -> set[str]:
    code = f"import sys; {statement}; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return {name.split(".")[0] for name in done.stdout.splitlines()[-1].split()}


def test_importing_bridge_does_no_work():
    assert not _loaded_by("import bridge") & {"numpy", "pydantic", "yaml", "rich", "typer", "mido", "asyncio"}


def test_lengths_loads_no_plan_model():
    heavy = {"numpy", "asyncio", "mido", "yaml", "soundfile", "pythonosc"}
    assert not _loaded_by("from bridge.cli import lengths") & heavy


def test_no_file_knows_a_path_of_a_machine():
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if tracked.returncode:
        pytest.skip("not a git checkout")
    for name in tracked.stdout.split():
        path = ROOT / name
        if path.is_file() and path.suffix in {".py", ".md", ".yaml", ".toml", ".lock", ""}:
            assert str(ROOT) + "/" not in path.read_text(encoding="utf-8", errors="replace"), name
