"""Units and compose file: they say what is there, in words that their readers know."""

import os
import re
import shutil
import subprocess
import sys
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest
import yaml

from motelake.cli.commands import COMMANDS
from motelake.config import PREFIX, Config

ROOT = Path(__file__).parent.parent
INFRA = ROOT / "infra"
UNITS = sorted((INFRA / "systemd").glob("*.service"))
KEYS = ("AWS_ACCESS_KEY_ID", "AWS_SECRET_ACCESS_KEY")
# The attributes of the Compose Specification that are used here (compose-spec.io, 05-services.md).
TOP = {"name", "services", "volumes"}
SERVICE = {
    "build", "command", "depends_on", "environment", "healthcheck", "image", "ports", "restart", "volumes",
}  # fmt: skip


@pytest.fixture(scope="module")
def compose() -> dict[str, Any]:
    text = (INFRA / "compose.yaml").read_text(encoding="utf-8")
    parsed: dict[str, Any] = yaml.safe_load(text)
    return {key: value for key, value in parsed.items() if not key.startswith("x-")}


def test_the_compose_file_keeps_to_the_specification(compose: dict[str, Any]) -> None:
    assert set(compose) <= TOP
    for name, service in compose["services"].items():
        assert set(service) <= SERVICE, name
        assert {mount.split(":")[0] for mount in service.get("volumes", ())} <= set(compose["volumes"])
        assert set(service.get("depends_on", ())) <= set(compose["services"])
        for awaited, how in service.get("depends_on", {}).items():
            assert how["condition"] in ("service_started", "service_healthy"), awaited
            assert how["condition"] != "service_healthy" or "healthcheck" in compose["services"][awaited]
        # Neither the store nor Prefect's page asks who is there: they are for this host only.
        assert all(re.fullmatch(r"127\.0\.0\.1:\d+:\d+", port) for port in service.get("ports", ()))
        assert (INFRA / service["build"]["context"] / service["build"]["dockerfile"]).is_file()


def test_the_compose_file_holds_no_key_and_stops_without_one(compose: dict[str, Any]) -> None:
    for service in compose["services"].values():
        for name in KEYS:
            value = service.get("environment", {}).get(name)
            assert value is None or value.startswith(f"${{{name}:?")
    assert set(KEYS) <= set(compose["services"]["store"]["environment"])
    assert set(KEYS) <= set(compose["services"]["worker"]["environment"])


def answers(command: list[str]) -> bool:
    found = shutil.which(command[0]) is not None
    return found and subprocess.run(command, capture_output=True, check=False).returncode == 0


def test_the_compose_tool_takes_the_file_where_there_is_one() -> None:
    tools = [tool for tool in (["docker", "compose"], ["docker-compose"]) if answers([*tool, "version"])]
    if not tools:
        pytest.skip("there is no compose tool on this machine")
    command = [*tools[0], "--file", str(INFRA / "compose.yaml"), "config", "--quiet"]
    done = subprocess.run(
        command, env=os.environ | dict.fromkeys(KEYS, "any"), capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


def names_in(text: str) -> set[str]:
    return set(re.findall(rf"\b{PREFIX}([A-Z_]+)", text))


def test_what_is_set_is_a_setting_and_what_is_called_is_there() -> None:
    files = [*UNITS, INFRA / "compose.yaml", INFRA / "systemd" / "motelake.env"]
    text = "\n".join(file.read_text(encoding="utf-8") for file in files)
    scripts = "\n".join(file.read_text(encoding="utf-8") for file in INFRA.iterdir() if file.is_file())
    settings = {field.name.upper() for field in fields(Config)} | {"LOG_FORMAT"}
    assert {name for name in names_in(text) - settings if f"${{{PREFIX}{name}:-" not in scripts} == set()
    called = set(re.findall(r"\bmotelake (\w+)(?= &&|$)", text, re.MULTILINE)) - {"worker"}
    assert called == {"serve", "deploy"}
    assert called <= set(COMMANDS)
    for script in re.findall(r"/opt/motelake/infra/(\w+)", text):
        assert (INFRA / script).is_file(), script


@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: unit.name)
def test_systemd_takes_every_unit(unit: Path, tmp_path: Path) -> None:
    if not shutil.which("systemd-analyze"):
        pytest.skip("systemd-analyze is not on this machine")
    # The programs are looked for where they would be installed; here they are where the tests run.
    text = unit.read_text(encoding="utf-8").replace(
        "/opt/motelake/.venv/bin", str(Path(sys.executable).parent)
    )
    for one in UNITS:
        (tmp_path / one.name).write_text(text if one == unit else one.read_text(encoding="utf-8"))
    command = ["systemd-analyze", "verify", "--man=no", "--recursive-errors=no", str(tmp_path / unit.name)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
