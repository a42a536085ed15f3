"""The containers agree with the program: what they name exists. Read from the files; no container is started here."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
import yaml

pytestmark = pytest.mark.once

ROOT = Path(__file__).parents[2]
COMPOSE = yaml.safe_load((ROOT / "docker-compose.yml").read_text("utf-8"))
OURS = [name for name, service in COMPOSE["services"].items() if "build" in service]
DOCKERFILE = (ROOT / "Dockerfile").read_text("utf-8")


def settings_read() -> set[str]:
    """Every name that the program reads from its environment."""
    texts = [(ROOT / "shopserv" / "settings.py").read_text("utf-8")]
    texts += [path.read_text("utf-8") for path in (ROOT / "scripts").iterdir() if path.is_file()]
    found = re.findall(r'env\.\w+\(\s*"([A-Z_]+)"|environ\.get\("([A-Z_]+)"|\$\{([A-Z_]+)', "\n".join(texts))
    return {name for names in found for name in names if name}


def test_there_are_web_worker_and_database():
    assert set(COMPOSE["services"]) == {"db", "migrate", "web", "worker"}


@pytest.mark.parametrize("name", OURS)
def test_every_setting_of_a_container_is_read_by_the_program(name):
    assert set(COMPOSE["services"][name]["environment"]) - settings_read() == set()


def test_every_setting_of_the_image_is_read_by_the_program_or_by_python():
    names = set(re.findall(r"\b([A-Z_]+)=", re.search(r"^ENV (.*)$", DOCKERFILE, re.M).group(1)))

    assert names - settings_read() == {"PYTHONUNBUFFERED", "PYTHONDONTWRITEBYTECODE"}


@pytest.mark.parametrize("name", ["SECRET_KEY", "POSTGRES_PASSWORD", "ALLOWED_HOSTS", "SITE_URL", "EMAIL_URL"])
def test_a_secret_has_no_default_and_a_missing_one_is_named(name):
    text = (ROOT / "docker-compose.yml").read_text("utf-8")
    uses = re.findall(rf"\$\{{{name}([^}}]*)\}}", text)

    assert uses
    assert {use[:2] for use in uses} == {":?"}


@pytest.mark.parametrize("name", ["db", "web", "worker"])
def test_what_runs_on_has_a_health_check_that_exists(name):
    test = COMPOSE["services"][name]["healthcheck"]["test"]

    assert [word for word in test if word.startswith("scripts/") and not (ROOT / word).exists()] == []
    assert name == "db" or test[-1] == name


@pytest.mark.parametrize("name", OURS)
def test_the_command_of_a_container_exists_and_may_be_run(name):
    command = COMPOSE["services"][name]["command"]
    path = ROOT / next(word for word in command if word != "python")

    assert os.access(path, os.X_OK)


def test_every_volume_is_named_and_declared():
    used = {place.split(":")[0] for service in COMPOSE["services"].values() for place in service.get("volumes", [])}

    assert used == set(COMPOSE["volumes"]) == {"database", "files"}


def test_every_file_copied_into_the_image_exists_and_is_not_ignored():
    copied = re.findall(r"^COPY (\S+)", DOCKERFILE, re.M)
    let_in = {line[1:] for line in (ROOT / ".dockerignore").read_text("utf-8").split() if line.startswith("!")}

    assert [name for name in copied if not (ROOT / name).exists()] == []
    assert set(copied) == let_in


def test_the_image_runs_as_a_person_without_rights():
    assert re.findall(r"^USER (.*)$", DOCKERFILE, re.M) == ["shopserv"]
    assert DOCKERFILE.index("\nUSER") < DOCKERFILE.index("\nCMD")


def test_the_image_installs_every_library_that_the_demonstration_asks_for():
    sys.path.insert(0, str(ROOT / "scripts"))
    from prepare import LIBRARIES

    sys.path.pop(0)
    brought_along = {"libglib2.0-0", "libharfbuzz0b"}  # dependencies of libpango-1.0-0

    assert {package for package in LIBRARIES.values() if package not in DOCKERFILE} == brought_along


@pytest.mark.parametrize(
    ("settings", "sentence"),
    [
        ({"SECRET_KEY": ""}, "SECRET_KEY is missing or shorter than 50 characters"),
        ({"SECRET_KEY": "short"}, "SECRET_KEY is missing or shorter than 50 characters"),
        ({"DEBUG": "1"}, "DEBUG is on in production"),
        ({"ALLOWED_HOSTS": "*"}, "ALLOWED_HOSTS must name"),
        ({"SHOPSERV_ENV": "staging"}, "it may be production, demo or test"),
    ],
)
def test_a_start_that_would_be_unsafe_is_refused_with_the_reason(settings, sentence, tmp_path):
    whole = {"SECRET_KEY": "k" * 50, "ALLOWED_HOSTS": "shop.example", "VAR_DIR": str(tmp_path)}
    env = {"PATH": os.environ["PATH"], **whole, **settings}

    done = subprocess.run(
        [sys.executable, "manage.py", "check"], cwd=ROOT, env=env, capture_output=True, text=True, check=False
    )

    assert done.returncode != 0
    assert sentence in done.stderr


def test_a_start_with_all_that_it_needs_is_not_refused(tmp_path):
    env = {
        "PATH": os.environ["PATH"],
        "SECRET_KEY": "k" * 50,
        "ALLOWED_HOSTS": "shop.example",
        "VAR_DIR": str(tmp_path),
    }

    done = subprocess.run(
        [sys.executable, "manage.py", "check"], cwd=ROOT, env=env, capture_output=True, text=True, check=False
    )

    assert (done.returncode, done.stderr) == (0, "")
