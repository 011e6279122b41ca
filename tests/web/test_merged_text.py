"""Two people's changes of one text are put together only where they do not meet, and none of either is lost."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestwright.web.merged_text import KEPT, merged, recalled, remembered

BEFORE = "a = 1\nb = 2\nc = 3\nd = 4\n"
texts = st.lists(st.sampled_from("pqrs"), max_size=8).map(lambda lines: "".join(f"{one}\n" for one in lines))


@pytest.mark.parametrize(
    ("one", "other", "both"),
    [
        ("a = 1\nb = 9\nc = 3\nd = 4\n", "a = 1\nb = 2\nc = 3\nd = 8\n", "a = 1\nb = 9\nc = 3\nd = 8\n"),
        ("a = 1\nb = 9\nc = 3\nd = 4\n", "a = 1\nb = 9\nc = 3\nd = 4\n", "a = 1\nb = 9\nc = 3\nd = 4\n"),
        ("a = 1\nb = 9\nc = 3\nd = 4\n", "a = 1\nb = 8\nc = 3\nd = 4\n", None),
        ("b = 2\nc = 3\nd = 4\n", BEFORE + "e = 5\n", "b = 2\nc = 3\nd = 4\ne = 5\n"),
        (BEFORE + "e = 5\n", BEFORE + "f = 6\n", None),
    ],
)
def test_changes_of_different_lines_stand_both(one: str, other: str, both: str | None) -> None:
    assert merged(BEFORE, one, other) == both
    assert merged(BEFORE, other, one) == both


@given(texts, texts)
def test_who_alone_changed_something_gets_what_they_made(before: str, after: str) -> None:
    assert merged(before, after, before) == merged(before, before, after) == merged(before, after, after) == after


@given(st.lists(st.integers(0, 9), min_size=1, max_size=12), st.data())
def test_of_two_who_set_values_each_finds_theirs(values: list[int], data: st.DataObject) -> None:
    """Lines of their own keys, as a habitat's text has them: who sets which line is known, so what both made is too."""

    def text(of: list[int]) -> str:
        return "".join(f"key{k} = {value}\n" for k, value in enumerate(of))

    whose = data.draw(st.lists(st.sampled_from(["one", "other", "none"]), min_size=len(values), max_size=len(values)))
    one, other, both = list(values), list(values), list(values)
    for k, who in enumerate(whose):
        if who != "none":
            (one if who == "one" else other)[k] = both[k] = values[k] + 100
    assert merged(text(values), text(one), text(other)) == text(both)


def test_the_last_texts_are_remembered_by_their_sums() -> None:
    first = remembered("first")
    assert recalled(first) == "first"
    for k in range(KEPT):
        remembered(f"text {k}")
    assert recalled(first) is None
