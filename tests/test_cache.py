"""The cache as another user of the same computer would attack it, and as an accident would spoil it.

Whoever can write a result can turn an error into "nothing found"; so the cache is used only where nobody
else can, and without it all is the same, slower.
"""

from __future__ import annotations

import os
import stat
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hmic.cache import HASH, Kind, keep, keep_bytes, kept, kept_bytes

WORDS = Kind("words", files=4, largest=1000)
ROOT = Path(__file__).parents[1]
STRANGER = 65534


@pytest.fixture
def base(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A cache folder of this test's own."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "base"))
    return tmp_path / "base"


def file_of(base: Path) -> Path:
    """The one file that stands in the cache."""
    (found,) = (base / "hmic").iterdir()
    return found


def test_what_is_kept_is_had_again_by_its_kind_and_content(base: Path) -> None:
    keep(WORDS, b"a", {"x": [1, None, "ü"]})
    assert kept(WORDS, b"a") == {"x": [1, None, "ü"]}
    assert kept(WORDS, b"b") is None
    assert kept(Kind("words", 4, 1000, version=2), b"a") is None
    assert kept(Kind("wordsa", 4, 1000), b"") is None
    assert stat.S_IMODE(base.joinpath("hmic").stat().st_mode) == 0o700
    assert stat.S_IMODE(file_of(base).stat().st_mode) == 0o600


def test_it_never_grows_beyond_its_bound(base: Path) -> None:
    for number in range(200):
        keep_bytes(WORDS, str(number).encode(), os.urandom(number * 10))
        assert kept_bytes(WORDS, str(number).encode()) is not None or number * 10 + 2 * HASH > WORDS.largest
    files = list((base / "hmic").iterdir())
    assert {file.name for file in files} == {f"words-{number}" for number in range(WORDS.files)}
    assert all(file.stat().st_size <= WORDS.largest for file in files)
    keep_bytes(WORDS, b"most", bytes(WORDS.largest - 2 * HASH))
    assert kept_bytes(WORDS, b"most") == bytes(WORDS.largest - 2 * HASH)
    keep_bytes(WORDS, b"more", bytes(WORDS.largest - 2 * HASH + 1))
    assert kept_bytes(WORDS, b"more") is None


@given(st.data())
def test_what_is_half_written_or_spoilt_is_no_result(data: st.DataObject) -> None:
    result = data.draw(st.binary(max_size=40))
    keep_bytes(WORDS, b"a", result)
    path = next((Path(os.environ["XDG_CACHE_HOME"]) / "hmic").glob("words-*"))
    for each in path.parent.glob("words-*"):
        whole = each.read_bytes()
        at = data.draw(st.integers(0, len(whole) - 1))
        cut = data.draw(st.booleans())
        spoilt = whole[:at] if cut else whole[:at] + bytes([whole[at] ^ 1 << at % 8]) + whole[at + 1 :]
        each.write_bytes(spoilt)
    assert kept_bytes(WORDS, b"a") is None
    keep_bytes(WORDS, b"a", result)
    assert kept_bytes(WORDS, b"a") == result
    for each in path.parent.glob("words-*"):
        each.unlink()


@pytest.mark.parametrize("text", [b"[", b"[" * 100_000, b"\xff"])
def test_what_is_no_json_is_no_result(base: Path, text: bytes) -> None:
    kind = Kind("words", 4, 1_000_000)
    keep_bytes(kind, b"a", text)
    assert kept_bytes(kind, b"a") == text and kept(kind, b"a") is None


def unused(base: Path) -> None:
    """Nothing is taken from the cache as it stands, and nothing put there."""
    before = {path: path.lstat().st_mtime_ns for path in base.rglob("*")} if base.exists() else {}
    assert kept_bytes(WORDS, b"a") is None
    keep_bytes(WORDS, b"a", b"new")
    assert kept_bytes(WORDS, b"a") is None
    after = {path: path.lstat().st_mtime_ns for path in base.rglob("*")} if base.exists() else {}
    assert after == before


@pytest.mark.parametrize("mode", [0o770, 0o707, 0o777, 0o720, 0o702, 0o1777])
def test_a_folder_that_others_can_write_is_not_used(base: Path, mode: int) -> None:
    keep_bytes(WORDS, b"a", b"old")
    (base / "hmic").chmod(mode)
    unused(base)
    (base / "hmic").chmod(0o755)
    assert kept_bytes(WORDS, b"a") == b"old"


@pytest.mark.parametrize("above", [0, 1, 2])
@pytest.mark.parametrize("mode", [0o770, 0o777])
def test_nor_one_that_could_be_exchanged_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, above: int, mode: int
) -> None:
    home = tmp_path / "home"
    base = home / "user" / "cache"
    monkeypatch.setenv("XDG_CACHE_HOME", str(base))
    keep_bytes(WORDS, b"a", b"old")
    open_to_all = [base, *base.parents][above]
    open_to_all.chmod(mode)
    unused(base)
    # In a sticky folder such as /tmp only the owner of an entry, or of the folder, can exchange it.
    open_to_all.chmod(0o1777)
    assert kept_bytes(WORDS, b"a") == b"old"


@pytest.mark.parametrize("where", ["here", "folder", "above"])
def test_nor_one_that_belongs_to_another(base: Path, monkeypatch: pytest.MonkeyPatch, where: str) -> None:
    """Seen from a user who is neither its owner nor the administrator."""
    keep_bytes(WORDS, b"a", b"old")
    if where == "here":
        monkeypatch.setattr(os, "geteuid", lambda: os.getuid() + 1)
    elif os.getuid() == 0:
        os.chown(base / "hmic" if where == "folder" else base, STRANGER, -1)
    else:
        pytest.skip("only the administrator can give a folder away")
    unused(base)


@pytest.mark.skipif(os.getuid() != 0, reason="needs two users")
def test_two_users_and_one_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    """A true second user plants findings where the first will look, in a folder that all can write."""
    with tempfile.TemporaryDirectory() as folder:
        shared = Path(folder)
        shared.chmod(0o1777)
        _plant(shared)
        monkeypatch.setenv("XDG_CACHE_HOME", str(shared))
        unused(shared)
        (shared / "hmic").chmod(0o777)
        unused(shared)


def _plant(shared: Path) -> None:
    code = (
        "import os, sys\n"
        f"sys.path.insert(0, {str(ROOT)!r})\n"
        "from hmic.cache import Kind, keep, kept\n"
        f"os.environ['XDG_CACHE_HOME'] = {str(shared)!r}\n"
        f"os.setgid({STRANGER}); os.setuid({STRANGER})\n"
        "keep(Kind('words', 4, 1000), b'a', 'planted')\n"
        "print(kept(Kind('words', 4, 1000), b'a'))\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=30, check=False
    )
    assert ran.stdout == "planted\n", ran.stderr


@pytest.mark.parametrize("kind", ["link", "dangling link", "hard link", "pipe", "folder", "device"])
def test_what_is_no_plain_file_is_left_alone(base: Path, tmp_path: Path, kind: str) -> None:
    keep_bytes(WORDS, b"a", b"old")
    path, elsewhere = file_of(base), tmp_path / "elsewhere"
    whole = path.read_bytes()
    path.unlink()
    match kind:
        case "link":
            elsewhere.write_bytes(whole)
            path.symlink_to(elsewhere)
        case "dangling link":
            path.symlink_to(elsewhere)
        case "hard link":
            elsewhere.write_bytes(whole)
            os.link(elsewhere, path)
        case "pipe":
            os.mkfifo(path)
        case "folder":
            path.mkdir()
        case "device":
            try:
                os.mknod(path, 0o666 | stat.S_IFCHR, os.makedev(1, 5))
            except PermissionError:
                pytest.skip("only the administrator makes devices")
    unused(base)
    assert elsewhere.exists() == (kind in ("link", "hard link"))
    assert not elsewhere.exists() or elsewhere.read_bytes() == whole


@pytest.mark.parametrize("kind", ["link to a folder of ours", "file", "pipe", "link to nothing"])
def test_what_is_no_folder_is_left_alone(base: Path, tmp_path: Path, kind: str) -> None:
    keep_bytes(WORDS, b"a", b"old")
    folder = base / "hmic"
    folder.rename(tmp_path / "moved")
    match kind:
        case "link to a folder of ours":
            folder.symlink_to(tmp_path / "moved")
        case "link to nothing":
            folder.symlink_to(tmp_path / "nothing")
        case "file":
            folder.write_bytes(b"")
        case "pipe":
            os.mkfifo(folder)
    unused(tmp_path)


def test_a_link_of_ours_on_the_way_is_followed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "disk").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "disk")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "link"))
    keep_bytes(WORDS, b"a", b"old")
    assert kept_bytes(WORDS, b"a") == b"old" and (tmp_path / "disk" / "hmic").is_dir()


@pytest.mark.parametrize("named", ["", "relative", "/dev/null/none", "/proc/none"])
def test_without_a_folder_nothing_is_kept_and_nothing_raised(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, named: str
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOME", "/dev/null")
    monkeypatch.setenv("XDG_CACHE_HOME", named)
    unused(tmp_path)
