"""What holds for every test: a cache of its own for each run, and one way to draw examples."""

import inspect
import os
import signal
import tempfile
from collections.abc import Iterator

import hypothesis
import pytest
from hypothesis import Phase

from hmic.wire import states

# A cause that a state machine of the wire has no row for is a defect.
states.strict = True

CACHE = "XDG_CACHE_HOME"
MINUTES = ("test_fresh_worlds",)

# Two busy cores say nothing about the speed of an example; the time limit of each test is pytest's.
hypothesis.settings.register_profile("house", deadline=None, print_blob=True)
hypothesis.settings.load_profile("house")
# Whether a test fails is all that the bench of mutations asks, not with which shortest example.
hypothesis.settings.register_profile(
    "unshrunk", hypothesis.settings.get_profile("house"), phases=[Phase.explicit, Phase.generate]
)

# A shell that starts the tests behind itself lets them, and all they start, ignore an interrupt.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

_folder = tempfile.TemporaryDirectory(prefix="hmic-cache-", ignore_cleanup_errors=True)
os.environ[CACHE] = _folder.name


@pytest.fixture(autouse=True)
def run_cache(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Whatever a test did to the environment, the next one has the cache of this run again. A test that puts
    something else in the place of a part of hmic has its own: what it finds in a design must not be
    remembered for the others, nor what they found for it."""
    changes_hmic = "monkeypatch" in inspect.signature(request.function).parameters
    own = tempfile.mkdtemp(dir=_folder.name) if changes_hmic else _folder.name
    monkeypatch.setenv(CACHE, own)
    yield


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What takes minutes comes first, so that at the end no worker is left alone with it."""
    items.sort(key=lambda item: item.name not in MINUTES)
