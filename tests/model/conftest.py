import pytest


@pytest.fixture(autouse=True)
def own_cache(tmp_path, monkeypatch):
    """No test reads or writes the user's cache."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
