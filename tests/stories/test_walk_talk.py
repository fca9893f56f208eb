"""The conversation in a plain terminal: complete, forgiving, and never ended by what is typed."""

from stories.walk_runs import conversation


def test_one_card_a_check_says_what_to_do_where_to_probe_and_what_to_expect():
    said = conversation(["", "frames", "", "60.1"])
    assert "Check 1, about" in said
    assert "Take the battery's negative cable off" in said
    assert "Ohms: red lead to cavity C, black lead to cavity D." in said
    assert "A sound truck shows" in said
    assert "Read as 60.1 Ω." in said


def test_a_caution_comes_before_the_step_that_needs_it_and_once():
    said = conversation(["", "frames", "", "60.1", "100k", "100k"])
    assert said.count("Negative cable off first and on last") == 1
    assert said.index("Negative cable off first") < said.index("Take the battery's negative cable off")


def test_wrong_input_never_ends_a_walk():
    said = conversation(["", "12 apples", "???", "save /no/such/folder/x", "repaired", "back", "frames"])
    assert "is no answer here" in said
    assert "cannot be written" in said
    assert "there is nothing to take back" in said
    assert "Check 2" in said


def test_words_explain_undo_and_skip():
    said = conversation(["", "help", "frames", "", "why", "suspects", "back", "skip", "quit"])
    assert "take the last answer back" in said
    assert "Readings for and against" in said
    assert "None of the faults known here" in said
    assert said.count("Check 1, about") == 2
    assert "FINDING, not proven" in said


def test_a_saved_walk_goes_on_where_it_was(tmp_path):
    path = tmp_path / "walk.jsonl"
    conversation(["", "frames", "", f"save {path}", "quit"])
    assert "Check 2" in conversation(["", "quit"], "--resume", str(path))


def test_a_finding_reads_as_complaint_cause_correction_confirmation():
    said = conversation(["", "frames", "", "quit"])
    places = [said.index(word) for word in ("Complaint:", "Cause:", "Correction:", "Confirmation:")]
    assert places == sorted(places)
