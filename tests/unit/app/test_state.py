"""app/statefolder.py, app/standing_orders.py, app/paths.py: what a start begins from."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.peers.small_disk import NoRight, SmallDisk
from tests.unit.store.writer import batch

from shipkeeper.app import paths
from shipkeeper.app.standing_orders import COPY, keep_copy, standing
from shipkeeper.app.statefolder import AlreadyRuns, held, open_store
from shipkeeper.orders import BadOrders
from shipkeeper.store import Store

GOOD = """
[vessel]
name = "Curlew"
length = "11.4 m"
beam = "3.6 m"
[drag]
radius = "45 m"
"""


def test_one_daemon_a_state_folder(tmp_path: Path) -> None:
    """A second one is refused; when the first has gone, it may."""
    state = tmp_path / "state"
    with held(state), pytest.raises(AlreadyRuns), held(state):
        pass
    with held(state):
        pass


def test_a_store_that_cannot_be_opened_does_not_stop_the_watch(tmp_path: Path) -> None:
    """The path is a folder: no store, nothing remembered, and the reason."""
    (tmp_path / "shipkeeper.db").mkdir()
    opened, _ = open_store(tmp_path / "shipkeeper.db")
    assert opened.store is None and opened.blind
    assert opened.remembered.alerts == ()
    assert "shipkeeper.db" in opened.problem


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[SmallDisk]:
    """With a watch, an alert and a message that is owed."""
    try:
        made = SmallDisk(tmp_path / "disk", "1m")
    except NoRight:
        pytest.skip("no right to mount a tmpfs here, so no disk can be filled")
    with made:
        store = Store.open(made.path / "shipkeeper.db")
        store.commit([*batch(1)], 1000.0)
        store.close()
        yield made


@pytest.mark.parametrize("how", ["full", "read-only"])
def test_a_disk_that_takes_nothing_is_read_all_the_same(how: str, disk: SmallDisk) -> None:
    """A restart on it: the lock is no hindrance, watch and alerts and what is owed are there;
    with the disk well again the store opens, and nothing was changed meanwhile."""
    disk.fill() if how == "full" else disk.read_only()
    path = disk.path / "shipkeeper.db"
    with held(disk.path):
        opened, opener = open_store(path)
        assert opened.store is None and opened.problem and not opened.blind
        assert opened.remembered.state == {"watch": b"1"}
        assert len(opened.remembered.alerts) == 1
        assert [message.id for message in opened.owed] == ["m1"]
        assert opener.attempt().store is None
        disk.empty() if how == "full" else disk.writable()
        again = opener.attempt(5.0)
        assert again.store is not None and again.remembered.problems == ()
        again.store.close()


def test_bad_orders_are_refused_to_a_person(tmp_path: Path) -> None:
    """By hand, with a good copy or without: every problem, and no watch."""
    path = tmp_path / "orders.toml"
    path.write_text(GOOD)
    orders, wrong = standing(path, tmp_path, unattended=False)
    assert wrong == ""
    keep_copy(orders, tmp_path)
    path.write_text(GOOD.replace('"45 m"', "45"))
    with pytest.raises(BadOrders):
        standing(path, tmp_path, unattended=False)


def test_a_restart_in_the_night_falls_back_on_the_last_good_orders(tmp_path: Path) -> None:
    """Somebody spoilt the file, then the power failed: the watch runs by the orders of
    before and says so; without such a copy the bad orders are refused."""
    path = tmp_path / "orders.toml"
    path.write_text(GOOD.replace('"45 m"', "45"))
    with pytest.raises(BadOrders):
        standing(path, tmp_path, unattended=True)
    path.write_text(GOOD)
    keep_copy(standing(path, tmp_path, unattended=True)[0], tmp_path)
    path.write_text(GOOD.replace("radius", "raduis"))
    orders, wrong = standing(path, tmp_path, unattended=True)
    assert [rule.table for rule in orders.rules if rule.table == "drag"] == ["drag"]
    assert "raduis" in wrong and "those of before stand" in wrong
    assert (tmp_path / COPY).read_text() == GOOD


def test_secrets_come_from_private_files_and_credentials(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file that all may read is refused; a systemd credential is found by its name; no
    error text holds the secret."""
    secret = tmp_path / "push-urls"
    secret.write_text("json://token@host/\n")
    secret.chmod(0o644)
    with pytest.raises(ValueError, match="everyone") as refused:
        paths.secret(str(secret))
    assert "token" not in str(refused.value)
    secret.chmod(0o600)
    assert paths.secret(str(secret)) == "json://token@host/"
    monkeypatch.delenv("CREDENTIALS_DIRECTORY", raising=False)
    with pytest.raises(ValueError, match="credential"):
        paths.secret("credential:push-urls")
    monkeypatch.setenv("CREDENTIALS_DIRECTORY", str(tmp_path))
    assert paths.secret("credential:push-urls") == "json://token@host/"
    with pytest.raises(ValueError, match="names no credential"):
        paths.secret("credential:../push-urls")


def test_where_things_are(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Options win, then systemd's folders, then the user's own."""
    monkeypatch.delenv("STATE_DIRECTORY", raising=False)
    monkeypatch.delenv("RUNTIME_DIRECTORY", raising=False)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    own = paths.state_folder(None)
    assert own in (tmp_path / "shipkeeper", Path("/var/lib/shipkeeper"))
    assert paths.control_socket(None, own) == own / "control"
    monkeypatch.setenv("STATE_DIRECTORY", "/var/lib/a:/var/lib/b")
    monkeypatch.setenv("RUNTIME_DIRECTORY", "/run/a")
    assert paths.state_folder(None) == Path("/var/lib/a")
    assert paths.control_socket(None, own) == Path("/run/a/control")
    assert paths.state_folder(tmp_path) == tmp_path
    assert paths.daemon_socket(None, tmp_path) == tmp_path / "control"
    assert paths.daemon_socket(tmp_path / "x", None) == tmp_path / "x"
