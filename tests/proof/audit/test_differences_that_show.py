# SPDX-License-Identifier: GPL-3.0-or-later
"""Of many differences those that show are found, with few sets of pictures."""

from collections.abc import Callable, Sequence

import pytest

from underglass.proof.audit.differences_that_show import Shown, is_quiet, told_apart


def stand_in(loud: dict[str, float], asked: list[str], *, together: str = "") -> Callable[[Sequence[str]], Shown]:
    def show(some: Sequence[str]) -> Shown:
        asked.append("".join(some))
        joint = 50.0 if together and set(together) <= {*some} else 0.0
        return max([joint, *(loud.get(one, 0.0) for one in some)]), 3

    return show


def test_many_that_show_nothing_take_one_set_of_pictures() -> None:
    asked: list[str] = []
    assert told_apart("abcdefghijklmnopqr", stand_in({}, asked)) == [(0.0, 3)] * 18
    assert len(asked) == 1


def test_the_ones_that_show_are_found_in_few_sets() -> None:
    asked: list[str] = []
    found = told_apart("abcdefghijklmnop", stand_in({"c": 9.0}, asked))
    assert [one for one, shown in zip("abcdefghijklmnop", found, strict=True) if shown[0]] == ["c"]
    assert len(asked) == 9


def test_what_shows_only_together_is_told_together() -> None:
    found = told_apart("abcd", stand_in({}, [], together="ac"))
    assert [shown for shown, _ in found] == [50.0] * 4


def test_sets_of_pictures_are_bounded_and_nothing_loud_is_called_quiet() -> None:
    asked: list[str] = []
    names = [chr(33 + number) for number in range(64)]
    found = told_apart(names, stand_in(dict.fromkeys(names, 7.0), asked))
    assert {shown for shown, _ in found} == {7.0}
    assert len(asked) == 16


@pytest.mark.parametrize(("codes", "quiet"), [(1.04, True), (1.06, False)])
def test_one_code_of_255_and_a_twentieth_for_its_rounding_is_quiet(codes: float, quiet: bool) -> None:
    assert is_quiet((codes, 3)) == quiet


def test_what_could_not_be_rendered_is_not_quiet() -> None:
    assert told_apart("ab", lambda some: (-1.0 if "b" in some else 0.0, 1)) == [(0.0, 1), (-1.0, 1)]


def test_one_code_and_its_rounding_is_quiet() -> None:
    assert told_apart("ab", lambda some: (1.000015, 1)) == [(1.000015, 1)] * 2
