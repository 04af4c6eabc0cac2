"""What every test can use. ``--database=postgresql`` runs the same tests on a PostgreSQL of their own."""

from __future__ import annotations

import contextlib
import gc
import importlib
import os
import shutil
import tempfile
from pathlib import Path
from typing import Any

import dj_database_url
import django.test
import hypothesis
import pytest
from django.conf import settings
from django.core.cache import cache
from django.db import connections
from django.utils.connection import BaseConnectionHandler
from django_tasks import task_backends
from hypothesis.internal.conjecture import providers
from xdist.scheduler import LoadFileScheduling

from tests import size
from tests.asked import Asked, read, that_ask_all
from tests.flushing import let_tests_empty_tables
from tests.kept import copy_sqlite
from tests.postgres import TEMPLATE, Cluster, binaries
from tests.size import LONG
from tests.where import ROOT, chromium
from tests.worlds import Worlds

#: Set in continuous integration: a missing part is a failure there, not a skip.
NOTHING_MISSING = os.environ.get("FARMBUILD_REQUIRE_ALL") == "1"

#: Files that read the same walk through the demo season stay together, so that one process walks.
READ_ONE_WALK = (
    "one_unit_system",
    "numbers_written",
    "lengths_written",
    "cautions",
    "one_main_button",
    "terms_linked",
    "said_in_spanish",
    "forms_ask",
)
#: Files that take longest go out first, so that no process ends long after the others.
LONGEST = (
    # Where the migrated database is not kept yet, the first process makes it while the others have this to do.
    "browser/test_pages.py",
    "planning/test_season.py",
    *(f"quality/test_{name}.py" for name in READ_ONE_WALK),
    "planning/test_cutting_properties.py",
    "upgrades/",
    "workbooks/test_locales.py",
    "season/",
    "deployment/",
    "browser/",
    "quality/test_query_counts.py",
    "crew/bookings/test_visitors.py",
    "access/test_foreign_identifiers.py",
    "sites/test_sites_pages.py",
    "workbooks/test_plan_workbooks.py",
    "demo/",
    "planning/test_scheduling_properties.py",
    "planning/test_together.py",
    "sites/test_bad_input.py",
    "sites/test_every_field.py",
    "quality/",
    "outside/",
    "workbooks/",
)
#: Fixtures by which a test opens pages.
CLIENTS = frozenset({"client", "signed_in", "walked"})
#: The rule: on PostgreSQL runs whatever may come out otherwise there: what is stored and read back (decimals, JSON,
#: texts that one of the two refuses, how large a number may be), sorted, compared or summed by it, constraints
#: and guards, locks, transactions, and migrations. Not again what reads rows that were stored the same way in every
#: case: walks through pages, forms that refuse before anything is stored, files that are drawn, and who may open what.
#: That every page of a season answers there is seen of a kept database (tests/upgrades), and that odd queries do, in
#: quality/test_odd_queries.py. Files, folders, or beginnings of names.
NOT_OF_THE_DATABASE = (
    *(f"quality/test_{name}.py" for name in READ_ONE_WALK),
    "quality/test_hostile_names.py",
    # What is written down is asked of SQLite.
    "quality/test_asked.py",
    # Days are told by Python, none by the database.
    "quality/test_one_clock.py",
    "sites/test_bad_input.py",
    "sites/test_every_field.py",
    "sites/test_limits_of_the_workbook.py",
    # Who is let through or denied what is told by the names of addresses, and what is shown by the role.
    "access/test_every_address.py",
    "access/test_pages.py",
    "crew/bookings/test_visitors.py",
    # What a form takes is told by its query sets.
    "access/test_foreign_identifiers.py",
    "access/test_foreign_rows.py",
    # The same presses as in the tests of their rooms, one after the other; test_other_countries.py keeps the coins.
    "season/test_written_season.py",
    "drawings/",
    "workbooks/",
    "projects/test_round_trip.py",
    "catalogue/lists/test_reading.py",
    "hoops/batches/test_sheets.py",
    "plans/test_stored_versions.py::test_every_page_of_the_demo_plan",
    "demo/test_thrown_away.py::test_who_belongs_elsewhere",
)
#: Of those, what stores every field and reads it back.
STORED_AND_READ_BACK = (
    "sites/test_every_field.py::test_the_form_and_the_model_give_back_every_value",
    "sites/test_every_field.py::test_columns_hold_the_largest_that_is_taken",
    "projects/test_round_trip.py::test_every_field_comes_back",
)
#: Of the rest each statement is asked once: a run on SQLite, which comes first, writes down what each test asks, and
#: the cheapest are taken that ask all of it (tests/asked.py). Where nothing was written down of a test, or the command
#: names files, it runs. So do races, kills, guards, what was kept, and these, which show more than what they ask.
OF_THE_DATABASE = (
    *STORED_AND_READ_BACK,
    # Sums, orders and figures that the two databases work out, each in its way.
    "coop/test_law.py",
    "costs/test_law.py",
    "costs/test_law_of_trade.py",
    "stock/test_costs.py",
    "plans/test_one_truth.py",
    "orgs/test_currency.py",
    "season/test_other_countries.py",
    "quality/test_odd_queries.py",
    "catalogue/test_short_names.py",
    "projects/test_bad_books.py",
    "history/",
    "moving/",
    "upgrades/",
)
#: What a season is loaded to is the same rows each time: that it loads there shows it.
LOADS_THE_DEMO = ("demo/test_demo.py", "demo/test_season.py")
#: The pure floors, whose tests ask no database (import-linter holds that), and what runs once, with SQLite.
WITHOUT_DATABASE = {ROOT / "tests" / name for name in ("measure", "mechanics", "planning", "benchmarks", "browser")}
#: Tests of these files and rooms share the rows of their fixtures (tests/worlds.py): many tests, each with a house or a
#: quote.
SHARE_A_WORLD = (
    "buying/",
    "coop/",
    "crew/",
    "demo/test_thrown_away.py",
    "moving/test_files.py",
    "plans/",
    "projects/test_reading_in.py",
    "quotes/",
    "sites/test_in_commas.py",
    "sites/test_own_rows.py",
    "sites/test_sites_pages.py",
)
#: Address of the PostgreSQL that processes of one run share.
CLUSTER = "farmbuild_cluster"
#: Whether the run names no file.
ALL = "farmbuild_all"
CLUSTER_KEY = pytest.StashKey[str]()


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--database", choices=["sqlite", "postgresql"], default="sqlite")


@pytest.hookimpl(tryfirst=True)
def pytest_configure(config: pytest.Config) -> None:
    hypothesis.settings.load_profile("long" if LONG else "ci")
    # Else every process reads all our sources for numbers to try, and cases hang on what happens to be imported.
    providers.is_local_module_file = lambda path: False
    # Work is done where it is asked for, so that tests know when it is over.
    settings.TASKS = {"default": {"BACKEND": "django_tasks.backends.immediate.ImmediateBackend"}}
    _read_anew(task_backends)
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    if spreads(config):
        # A file stays together with its fixtures, and files go out in our order, not the fullest first.
        config.option.dist, config.option.loadscopereorder = "loadfile", False
    if config.getoption("--database") == "sqlite":
        # A file, not memory: write-ahead logging and locks between threads are then the real ones.
        folder = Path(tempfile.mkdtemp(prefix="farmbuild-test-"))
        config.add_cleanup(lambda: shutil.rmtree(folder, ignore_errors=True))
        database = settings.DATABASES["default"] | {"TEST": {"NAME": str(folder / "test.sqlite3")}}
        config.pluginmanager.register(Asked(), "asked")
    else:
        size.on_another_database = True
        bin_dir = binaries()
        if bin_dir is None:
            raise pytest.UsageError("--database=postgresql needs PostgreSQL: apt-get install postgresql")
        if not (address := getattr(config, "workerinput", {}).get(CLUSTER)):
            cluster = Cluster(bin_dir)
            config.add_cleanup(cluster.stop)
            address = config.stash[CLUSTER_KEY] = cluster.start()
        database = dj_database_url.parse(address) | {"TEST": {"TEMPLATE": TEMPLATE}}
    settings.DATABASES = {"default": database}
    _read_anew(connections)
    let_tests_empty_tables(config.getoption("--database"))
    config.pluginmanager.register(Worlds(lambda item: _is_of(item, SHARE_A_WORLD)), "worlds")
    # Django is set up by now, and no test file has imported its client yet.
    from tests.client import Client, list_static_files_once
    from tests.tokens import of_no_words

    django.test.Client = Client
    list_static_files_once()
    of_no_words()


def _read_anew(handler: BaseConnectionHandler) -> None:
    """Apps that were loaded may have had it read the settings already."""
    handler._settings = None
    handler.__dict__.pop("settings", None)
    with contextlib.suppress(AttributeError):
        del handler["default"]


def _runs_all(config: pytest.Config) -> bool:
    """Whether the command names no file."""
    if hasattr(config, "workerinput"):
        return bool(config.workerinput[ALL])
    return config.args_source is pytest.Config.ArgsSource.TESTPATHS


def spreads(config: pytest.Config) -> bool:
    """Whether this process hands tests out to others (``-n 2``)."""
    return bool(config.getoption("numprocesses", None)) and not hasattr(config, "workerinput")


@pytest.hookimpl(optionalhook=True)
def pytest_configure_node(node: Any) -> None:
    """One PostgreSQL for all processes, with a database for each."""
    node.workerinput[CLUSTER] = node.config.stash.get(CLUSTER_KEY, "")
    node.workerinput[ALL] = _runs_all(node.config)


class ByFile(LoadFileScheduling):
    """Hands out a whole file at a time, or the files that share a walk or the kept databases."""

    def _split_scope(self, nodeid: str) -> str:
        file = super()._split_scope(nodeid)
        if "/upgrades/" in file:
            return "kept databases"
        return "a walk" if file.endswith(tuple(f"quality/test_{name}.py" for name in READ_ONE_WALK)) else file


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> LoadFileScheduling:
    return ByFile(config, log)


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Neither imported nor looked through where nothing of it would run."""
    without = config.getoption("--database") == "postgresql" and collection_path in WITHOUT_DATABASE
    return True if without else None


def pytest_runtest_setup() -> None:
    """Pages keep what they worked out until a row changes; tests change clocks, limits and functions too."""
    cache.clear()


@pytest.hookimpl(tryfirst=True)
def pytest_collection(session: pytest.Session) -> None:
    """While thousands of tests are made, none of which goes away again, nothing is looked for."""
    if hasattr(session.config, "workerinput"):
        gc.disable()
        if _runs_all(session.config):
            _import_from_another_end(session.config)


def _import_from_another_end(config: pytest.Config) -> None:
    """Each process begins elsewhere among the files, and finds compiled what another had before it."""
    files = sorted(
        path
        for path in (ROOT / "tests").rglob("test_*.py")
        if not any(pytest_ignore_collect(folder, config) for folder in path.parents)
    )
    number, of = int(config.workerinput["workerid"].removeprefix("gw")), config.workerinput["workercount"]
    begin = len(files) * number // of
    for path in files[begin:] if begin else []:
        importlib.import_module(".".join(path.relative_to(ROOT).with_suffix("").parts))


def pytest_collection_finish(session: pytest.Session) -> None:
    """Among many tests rubbish is looked for seldom, and never in what was imported.

    What is timed runs in a process of its own, with Python's usual ways.
    """
    if hasattr(session.config, "workerinput"):
        gc.collect()
        gc.freeze()
        gc.enable()
        gc.set_threshold(50_000, 20, 50)


def _turn(item: pytest.Item) -> int:
    path = item.path.as_posix()
    return next((turn for turn, part in enumerate(LONGEST) if f"/tests/{part}" in path), len(LONGEST))


def _asks_the_database(item: pytest.Item) -> bool:
    """Pages in Chromium, files in LibreOffice, benchmarks and what needs no database run once, with SQLite."""
    if item.get_closest_marker("browser") or item.get_closest_marker("office") or "benchmarks" in item.path.parts:
        return False
    asking = {"db", "transactional_db", "kept", "one_kept", "walked"}
    return bool(item.get_closest_marker("django_db") or asking & set(item.fixturenames))


def _opens_pages(item: pytest.Item) -> bool:
    """Through Django's client, in one transaction, so that only the SQL of the page is another on PostgreSQL."""
    mark = item.get_closest_marker("django_db")
    alone = "transactional_db" in item.fixturenames or (mark and mark.kwargs.get("transaction"))
    return not alone and not item.get_closest_marker("postgres") and bool(CLIENTS & set(item.fixturenames))


def _is_of(item: pytest.Item, parts: tuple[str, ...]) -> bool:
    return item.nodeid.startswith(tuple(f"tests/{part}" for part in parts))


def _of_the_database(item: pytest.Item) -> bool:
    """Which shows more than its statements do: races, locks, kills, transactions that end, and what was kept."""
    mark = item.get_closest_marker("django_db")
    own = {"transactional_db", "live_server", "kept", "one_kept"} & set(item.fixturenames)
    names = item.path.stem.endswith(("races", "killed", "guards")) or item.get_closest_marker("postgres")
    return bool(own or names or (mark and mark.kwargs) or _is_of(item, OF_THE_DATABASE))


def _on_postgresql(items: list[pytest.Item], named: bool) -> list[pytest.Item]:
    """All that asks the database; in the usual run what the rules above say, and once what several tests ask, but
    where the command named files, what others ask too."""
    kept, seen = [], set()
    for item in filter(_asks_the_database, items):
        subject = item.nodeid.rpartition("::")[0]
        if not LONG and _is_of(item, NOT_OF_THE_DATABASE) and not _is_of(item, STORED_AND_READ_BACK):
            continue
        one_of_many = _opens_pages(item) or item.path.as_posix().endswith(LOADS_THE_DEMO)
        if LONG or not one_of_many or subject not in seen:
            kept.append(item)
        if one_of_many:
            seen.add(subject)
    if LONG or named:
        return kept
    # Those of which nothing was written down run as well.
    asked, names = read(), {item.nodeid for item in kept}
    always = {item.nodeid for item in kept if _of_the_database(item)} | (names - asked.keys())
    chosen = always | that_ask_all({name: asked[name] for name in names & asked.keys()}, always)
    return [item for item in kept if item.nodeid in chosen]


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("--database") == "postgresql":
        kept = _on_postgresql(items, named=not _runs_all(config))
        chosen = set(kept)
        config.hook.pytest_deselected(items=[item for item in items if item not in chosen])
        items[:] = kept
    if hasattr(config, "workerinput"):
        items.sort(key=_turn)
    missing = {
        "postgres": "" if config.getoption("--database") == "postgresql" else "runs with --database=postgresql",
        "browser": "" if chromium() else "needs Chromium: apt-get install chromium",
        "office": "" if shutil.which("soffice") else "needs LibreOffice: apt-get install libreoffice-calc-nogui",
    }
    for item in items:
        for mark, reason in missing.items():
            if reason and item.get_closest_marker(mark) and not (NOTHING_MISSING and mark != "postgres"):
                item.add_marker(pytest.mark.skip(reason=reason))


@pytest.fixture(scope="session")
def django_db_keepdb() -> bool:
    """SQLite begins from a copy that is put there before; PostgreSQL copies its template by itself."""
    return settings.DATABASES["default"]["ENGINE"] == "farmbuild.common.sqlite"


@pytest.fixture(scope="session")
def django_db_modify_db_settings(django_db_modify_db_settings_parallel_suffix: None, django_db_keepdb: bool) -> None:
    if django_db_keepdb:
        copy_sqlite(Path(settings.DATABASES["default"]["TEST"]["NAME"]))


@pytest.fixture
def organisation(db):
    from tests.factories import OrganisationFactory

    return OrganisationFactory()


@pytest.fixture
def user(organisation):
    from tests.factories import MembershipFactory

    return MembershipFactory(organisation=organisation).user


@pytest.fixture
def signed_in(client, user):
    """A client signed in as ``user`` of ``organisation``."""
    client.force_login(user)
    return client
