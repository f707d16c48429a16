"""The gate in front of the site: shut, it waits for those inside and answers all others in words."""

import threading

import pytest

from projects.management import gate as gates
from projects.management.gate import Gate, StillBusy


def asked(gate, path="/"):
    said = []
    answer = gate({"PATH_INFO": path}, lambda status, headers: said.append((status, dict(headers))))
    return said[0], answer


def site(environ, start_response):
    start_response("200 OK", [])
    return [b"page"]


def test_a_shut_gate_tells_why_and_asks_again_and_lets_the_look_of_the_page_through():
    gate = Gate(site)
    assert asked(gate)[0][0] == "200 OK"
    gate.inside = 0
    with gate.shut("A backup is being put back."):
        (status, headers), answer = asked(gate)
        assert status.startswith("503")
        assert headers["Refresh"] == "3"
        assert b"A backup is being put back." in b"".join(answer)
        assert asked(gate, "/static/projects/site.css")[0][0] == "200 OK"
    assert asked(gate)[0][0] == "200 OK"


def test_it_waits_until_whoever_is_inside_has_the_whole_answer():
    gate, was_alone = Gate(site), []

    def shut():
        with gate.shut("wait"):
            was_alone.append(gate.inside == 0)

    answer = asked(gate)[1]
    shutting = threading.Thread(target=shut)
    shutting.start()
    shutting.join(0.2)
    assert not was_alone
    assert b"".join(answer) == b"page"
    answer.close()
    shutting.join(5)
    assert was_alone == [True]


def test_where_somebody_stays_inside_it_opens_again_and_nothing_is_done(monkeypatch):
    monkeypatch.setattr(gates, "LONGEST", 0.1)
    gate = Gate(site)
    asked(gate)
    with pytest.raises(StillBusy), gate.shut("wait"):
        raise AssertionError("not alone")
    assert asked(gate)[0][0] == "200 OK"


def test_who_meets_an_error_inside_is_outside_again():
    def broken(environ, start_response):
        raise RuntimeError

    gate = Gate(broken)
    with pytest.raises(RuntimeError):
        asked(gate)
    assert gate.inside == 0


def test_the_server_s_own_work_is_inside_as_a_request_is_and_stays_out_of_a_shut_gate():
    gate = Gate(site)
    with gate.passed() as let_in:
        assert let_in
        assert gate.inside == 1
    with gate.shut("wait"), gate.passed() as let_in:
        assert not let_in
        assert gate.inside == 0
    assert gate.inside == 0
