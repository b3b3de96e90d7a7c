from metrolib.show.worksheet.disk.reached import NAME, Reached


def test_all_worksheets_share_one_number(tmp_path):
    one, other = Reached(tmp_path, 0), Reached(tmp_path, 5)
    assert (one.get(), other.get()) == (0, 5)  # nobody has written it yet
    one.set(1000)
    assert (one.get(), other.get()) == (1000, 1000)
    other.set(7)
    assert one.get() == 7


def test_it_is_never_beyond_the_end_of_the_history(tmp_path):
    Reached(tmp_path, 0).set(50)
    assert Reached(tmp_path, 2).get() == 2
    assert Reached(tmp_path, 60).get() == 2


def test_a_number_that_cannot_be_read_leaves_the_last_one(tmp_path):
    mine = Reached(tmp_path, 0)
    mine.set(3)
    (tmp_path / NAME).write_bytes(b"\0\0\0")
    assert mine.get() == 3
    (tmp_path / NAME).unlink()
    assert mine.get() == 3


def test_a_folder_that_cannot_be_written_is_no_hindrance(tmp_path):
    mine = Reached(tmp_path / "nowhere", 0)
    mine.set(3)
    assert mine.get() == 3
