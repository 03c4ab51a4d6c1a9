"""How relations are searched, and the browser that the pages and the sheet are looked at in."""

from __future__ import annotations

import gc
import os
import shutil
import sys
import tempfile
from collections.abc import Generator, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

# before numpy is imported, here and in every process that a test starts: small matrices are solved on one core, for
# threads of linear algebra that wait for each other beside a second worker take ten times the time
os.environ.update(OPENBLAS_NUM_THREADS="1", OMP_NUM_THREADS="1")

import pytest
from hypothesis import HealthCheck, settings
from hypothesis.internal.conjecture import providers

if TYPE_CHECKING:
    from playwright.sync_api import Browser
    from xdist.scheduler import LoadFileScheduling

# compiled once, as for a user, and not in each worker and each process that a test starts
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

TESTS = Path(__file__).parent
SETTINGS = Path(tempfile.gettempdir()) / f"burnerlab-tests-{os.getpid()}" / "settings.toml"
os.environ["BURNERLAB_SETTINGS"] = str(
    SETTINGS
)  # no test reads or writes what the person who runs it has remembered

collect_ignore_glob = ["conftest.py", "*/conftest.py"]  # no examples in them, and they share one name

# the same examples on every run, whatever else the machine does; --hypothesis-profile=search looks for new ones
settings.register_profile(
    "evidence", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile("search", settings.get_profile("evidence"), derandomize=False)
settings.load_profile("evidence")


def pytest_configure(config: pytest.Config) -> None:
    """Examples of the evidence are those of the strategies alone.

    hypothesis would mix in the constants of each local module that happens to be imported: 400 of them are parsed by
    each worker of a new checkout, their 7000 constants are sorted anew when one more is imported, and the examples
    would depend on what other tests of a worker imported. A search for new examples has them.
    """
    if config.getoption("hypothesis_profile", None) in (None, "evidence"):
        providers.is_local_module_file = lambda path: False


def pytest_runtest_setup() -> None:
    """Nothing is remembered when a test begins."""
    SETTINGS.unlink(missing_ok=True)


def pytest_sessionfinish() -> None:
    shutil.rmtree(SETTINGS.parent, ignore_errors=True)


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """What is collected stands to the end: no search for garbage looks at it, neither meanwhile nor later.

    Later it is sought a hundred times less often than Python does by itself, where it takes six seconds of a hundred.
    """
    gc.disable()
    try:
        return (yield)
    finally:
        gc.freeze()
        gc.set_threshold(100_000, 5, 5)
        gc.enable()


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(
    collector: pytest.Collector,
) -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """Of two workers one collects from the end: of a new checkout each then compiles half of the files."""
    report = yield
    if isinstance(collector, pytest.Directory) and os.environ.get("PYTEST_XDIST_WORKER") == "gw1":
        report.result.reverse()
    return report


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files with a slow test first: a worker that begins the longest of them last would be waited for."""
    slow = {item.path for item in items if item.get_closest_marker("slow")}

    def place(item: pytest.Item) -> tuple[bool, bool, Path, bool]:
        return (
            item.path not in slow,
            TESTS not in item.path.parents,
            item.path,
            isinstance(item, pytest.Function),  # after the examples of its file
        )

    items.sort(key=place)


TOGETHER = {
    "tests/gas/test_gas_other_libraries.py": "CoolProp",
    "tests/orifice/test_orifice_flow.py": "CoolProp",
    "tests/burner/test_jet_momentum.py": "CoolProp",
    "tests/flame/test_flame_tables.py": "CoolProp",
    "tests/supply/test_lpg_vapour.py": "CoolProp",
    "tests/cli/test_burner_kinds.py": "trees",
    "tests/cli/test_default_coefficient.py": "trees",
    "tests/house/test_declared_inputs.py": "trees",
    "tests/house/test_engines.py": "trees",
    "tests/house/test_front.py": "trees",
    "tests/house/test_house.py": "trees",
    "tests/house/test_types.py": "trees",
    "tests/house/test_words.py": "trees",
    "tests/house/test_written_keys.py": "trees",
    "tests/handbook/test_handbook_pages.py": "demonstration",
    "tests/cli/test_readme.py": "demonstration",
    "tests/cli/test_words_printed.py": "demonstration",
    "tests/handbook/test_handbook_gallery.py": "pictures",
    "tests/handbook/test_handbook_site.py": "pictures",
    "tests/page/test_page_handbook.py": "pictures",
    "tests/page/test_bench_language.py": "texts",
    "tests/page/test_desk_answer_language.py": "texts",
    "tests/page/test_desk_language.py": "texts",
    "tests/page/test_page_languages.py": "texts",
    "tests/report/test_languages.py": "texts",
    "tests/tables/test_texts.py": "texts",
    "burnerlab/tables/catalogue.py": "texts",
}
"""Files that share what takes seconds in each worker: another library's fluids, a demonstration, pictures, texts, the
syntax trees of the package."""


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> LoadFileScheduling | None:
    """A file goes to one worker as a whole, so that its server, browser and evaluations are made once."""
    from xdist.scheduler import LoadFileScheduling

    if config.getoption("dist") != "load":  # another way was asked for by name
        return None

    class Scheduling(LoadFileScheduling):
        def _split_scope(self, nodeid: str) -> str:
            file = super()._split_scope(nodeid)
            return TOGETHER.get(file, file)

    config.option.loadscopereorder = False
    return Scheduling(config, log)


CHROMIUM = next(filter(None, map(shutil.which, ("chromium-headless-shell", "chromium"))), "chromium")
"""The engine without windows, where it is installed: a page takes it a third of what it takes the whole browser."""
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


OPEN_BROWSERS = ExitStack()  # at most one


@contextmanager
def _chromium() -> Iterator[Browser]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        started = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield started
        started.close()


@pytest.fixture(scope="session")
def _browser_of_folder() -> list[Browser]:
    return []


@pytest.fixture(scope="module")
def browser(_browser_of_folder: list[Browser]) -> Browser:
    """Debian's Chromium, asking nobody for anything; one for the files of a folder that follow one another."""
    if not _browser_of_folder:
        _browser_of_folder.append(OPEN_BROWSERS.enter_context(_chromium()))
        OPEN_BROWSERS.callback(_browser_of_folder.clear)
    return _browser_of_folder[0]


@pytest.hookimpl(wrapper=True)
def pytest_runtest_teardown(item: pytest.Item, nextitem: pytest.Item | None) -> Iterator[None]:
    """Its event loop must not outlive the folder: other tests start loops of their own."""
    yield
    if nextitem is None or nextitem.path.parent != item.path.parent:
        OPEN_BROWSERS.close()
