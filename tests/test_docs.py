"""What the documents promise is there, and what is there is documented."""

import re
from pathlib import Path

import pytest

from motelake.cli.commands import COMMANDS
from motelake.library import read_library

ROOT = Path(__file__).parent.parent
DOCUMENTS = ("README.md", "DEVELOPERS.md", "sql/README.md")
_CODE = re.compile(r"```.*?```|`[^`\n]+`", re.DOTALL)
_CALL = re.compile(r"\bmotelake ([a-z][a-z-]*)")
_SCRIPT = re.compile(r"\bbash (infra/[a-z.]+)")
_MODULE = re.compile(r"\bpython -m (motelake[a-z._]*)")


def code_of(document: str) -> str:
    """All code of a document, in blocks and between backticks."""
    return "\n".join(_CODE.findall((ROOT / document).read_text(encoding="utf-8")))


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_documented_in_the_readme(name: str) -> None:
    assert name in _CALL.findall(code_of("README.md"))


@pytest.mark.parametrize("document", DOCUMENTS)
def test_every_command_that_is_documented_exists(document: str) -> None:
    assert set(_CALL.findall(code_of(document))) <= set(COMMANDS)


@pytest.mark.parametrize("document", DOCUMENTS)
def test_every_view_that_is_documented_exists(document: str) -> None:
    library = read_library()
    areas = {entry.area for entry in library.questions()}
    named = re.findall(rf"\b((?:{'|'.join(sorted(areas))})\.[a-z_]+)\b", code_of(document))
    assert {name for name in named if name not in library.entries} == set()


@pytest.mark.parametrize("document", DOCUMENTS)
def test_every_script_and_module_that_is_documented_exists(document: str) -> None:
    code = code_of(document)
    for script in _SCRIPT.findall(code):
        assert (ROOT / script).is_file(), script
    for module in _MODULE.findall(code):
        place = ROOT / "flows" / module.replace(".", "/")
        assert place.with_suffix(".py").is_file() or (place / "__main__.py").is_file(), module
