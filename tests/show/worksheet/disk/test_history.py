import errno

import pytest

from metrolib.show.worksheet.disk import history
from metrolib.show.worksheet.disk.history import History, key_of, new_event

PLACE = key_of('level, "long"', "flat; front", 100.25, 2)


def _opened(folder):
    found = History(folder)
    found.read_on()
    return found


def test_what_is_written_is_read_again(tmp_path):
    kept = _opened(tmp_path)
    events = [
        new_event("taken", PLACE, now="-3.50", words="-3,50"),
        new_event("noted", PLACE, was="a, b", now='jack "moved"\nlater; µ'),
    ]
    kept.append(events)
    assert kept.events == events
    assert _opened(tmp_path).events == events
    assert events[0].place == PLACE
    assert events[1].now == 'jack "moved" later; µ'


def test_a_place_counts_to_a_hundredth_of_a_millimetre():
    assert key_of("t", "f", 0.1 + 0.2, 1) == key_of("t", "f", 0.3, 1)
    assert key_of("t", "f", 0.3, 1) != key_of("t", "f", 0.31, 1)
    assert key_of("t", "f", 0.3, 1) != key_of("t", "f", 0.3, 2)
    assert key_of("t", "f", 1234.56, 1).x == 1234.56


def test_lines_are_only_ever_added(tmp_path):
    kept = _opened(tmp_path)
    kept.append([new_event("taken", PLACE, now="1")])
    before = (tmp_path / "history.csv").read_bytes()
    kept.append([new_event("corrected", PLACE, was="1", now="2")])
    assert (tmp_path / "history.csv").read_bytes().startswith(before)


def test_what_another_writer_added_is_new_and_only_once(tmp_path):
    one, other = _opened(tmp_path), _opened(tmp_path)
    event = new_event("taken", PLACE, now="1")
    other.append([event])
    assert one.read_on() == [event]
    assert one.read_on() == []
    assert other.read_on() == []


def test_the_file_is_flushed_to_the_disk_before_append_returns(tmp_path, monkeypatch):
    flushed = []

    def flush(handle):
        flushed.append((tmp_path / "history.csv").read_text(encoding="utf-8-sig"))

    monkeypatch.setattr(history.os, "fsync", flush)
    _opened(tmp_path).append([new_event("taken", PLACE, now="1", token="wabc")])
    assert len(flushed) == 1 and "wabc" in flushed[0]


def test_what_cannot_be_written_leaves_the_file_as_it_was(tmp_path, monkeypatch):
    kept = _opened(tmp_path)
    kept.append([new_event("taken", PLACE, now="1")])
    before = (tmp_path / "history.csv").read_bytes()

    def full(handle):
        raise OSError(errno.ENOSPC, "full")

    monkeypatch.setattr(history.os, "fsync", full)
    with pytest.raises(OSError, match="full"):
        kept.append([new_event("taken", PLACE, now="2")])
    assert (tmp_path / "history.csv").read_bytes() == before
    assert [event.now for event in kept.events] == ["1"]


def test_one_token_is_one_event(tmp_path):
    kept = _opened(tmp_path)
    event = new_event("taken", PLACE, now="1")
    kept.append([event])
    raw = (tmp_path / "history.csv").read_bytes()
    (tmp_path / "history.csv").write_bytes(raw + raw.splitlines(keepends=True)[1])
    assert _opened(tmp_path).events == [event]


@pytest.mark.parametrize("cut", range(1, 60, 7))
def test_a_torn_line_hides_none_that_follows(tmp_path, cut):
    kept = _opened(tmp_path)
    first, torn = (new_event("taken", PLACE, now=now, words="2 thou") for now in ("1", "2"))
    kept.append([first])
    kept.append([torn])
    path = tmp_path / "history.csv"
    path.write_bytes(path.read_bytes()[:-cut])
    later = _opened(tmp_path)
    assert later.events == [first]
    third = new_event("taken", PLACE, now="3")
    later.append([third])
    found = [event.now for event in _opened(tmp_path).events]
    assert found[0] == "1" and found[-1] == "3"


def test_tokens_are_no_numbers_that_a_spreadsheet_would_round():
    assert all(history.new_token()[0] == "w" for _ in range(20))
    assert len({history.new_token() for _ in range(200)}) == 200


def test_a_file_that_is_no_history_gives_no_events(tmp_path):
    (tmp_path / "history.csv").write_text("my notes\n\n1,2,3\na,b,c,d,e,f,g,h,i,j\n")
    assert _opened(tmp_path).events == []
