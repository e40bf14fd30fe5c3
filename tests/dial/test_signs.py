"""Signs come and go; a kept state is whole."""

from sweeper.dial.signs import Signs


def test_bypass_comes_and_goes_and_close_stays(tmp_path):
    parent, worker = Signs(tmp_path), Signs(tmp_path)
    seen = []
    for _ in range(3):
        parent.toggle_bypass()
        seen.append(worker.bypassed)
    assert seen == [True, False, True]
    assert not worker.close_asked
    parent.ask_to_close()
    parent.ask_to_close()
    assert worker.close_asked


def test_the_kept_state_is_the_last_one_and_leaves_no_parts(tmp_path):
    signs = Signs(tmp_path)
    for state in (b"one", b"two"):
        signs.keep(state)
    assert signs.kept.read_bytes() == b"two"
    assert [path.name for path in tmp_path.iterdir()] == ["kept.vstpreset"]
