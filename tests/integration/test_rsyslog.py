"""The syslog outlet against the real rsyslogd: what it parsed of us, by its own fields."""

from __future__ import annotations

import json
import subprocess
import time
from contextlib import closing
from pathlib import Path

import pytest

from shipkeeper.outlets.syslog import Syslog, SyslogSender

from ..peers.broker import answers, free_port, program
from ..peers.messages import message


@pytest.mark.parametrize("way", ["tcp", "udp"])
def test_rsyslogd_parses_every_field(tmp_path: Path, way: str) -> None:
    """Severity, facility, name, id, structured data and text as they were meant; octet counting
    over TCP; a name from the air with quotes, brackets and line ends breaks nothing."""
    port, out = free_port(), tmp_path / "out.json"
    conf = tmp_path / "rsyslog.conf"
    fields = ["syslogseverity", "syslogfacility", "app-name", "msgid", "structured-data", "msg"]
    props = ",".join(f'\\"{f}\\":\\"%{f}:::json%\\"' for f in fields)
    conf.write_text(
        f'module(load="im{way}")\n'
        f'input(type="im{way}" port="{port}" address="127.0.0.1")\n'
        f'template(name="t" type="string" string="{{{props}}}\\n")\n'
        f'action(type="omfile" file="{out}" template="t")\n'
    )
    process = subprocess.Popen(
        [program("rsyslogd", "rsyslog"), "-n", "-f", str(conf), "-i", str(tmp_path / "pid")],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        if way == "tcp":
            answers(port)
        sender = SyslogSender(Syslog(address=f"{way}:127.0.0.1:{port}"))
        with closing(sender):
            edge = time.monotonic() + 15
            while not (out.exists() and out.read_text().strip()):
                assert time.monotonic() < edge
                sender.deliver(message(subject='SLY "]\\\n<1>1'))
                time.sleep(0.2)
        got = json.loads(out.read_text().splitlines()[0])
    finally:
        process.terminate()
        process.wait(30)
    assert (got["syslogseverity"], got["syslogfacility"]) == ("2", "3")
    assert (got["app-name"], got["msgid"]) == ("shipkeeper", "raised")
    assert 'id="drag"' in got["structured-data"]
    assert 'value="52.1"' in got["structured-data"]
    assert "DRAGGING: 52 m from the anchor" in got["msg"]
