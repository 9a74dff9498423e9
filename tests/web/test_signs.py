"""The buttons that write an exercise: each row of their table writes what can be read."""

from __future__ import annotations

import pytest

from evenhand.music.text import parse_exercise
from evenhand.web.signs import SIGNS, SignButton

BUTTONS = [button for group in SIGNS for button in group.buttons]
ON_A_NOTE = {
    "accent": "1/8: {0}RL",
    "graces": "1/8: RL",
    "brackets": "1/8: (R)L",
    "sound": "1/8: R{0}L",
    "tail": "1/8: R{0}L",
}


def written(button: SignButton) -> str:
    """Return what a button's row means, in an exercise."""
    if button.kind == "value":
        return f"{button.text}: RL"
    if button.kind == "meter":
        return f"{button.text} 1/8: RL"
    if button.part == "graces":
        return f"1/8: {'l' * len(button.text)}RL"
    return ON_A_NOTE[button.part].format(button.text) if button.part else f"1/8: RL{button.text}RL"


@pytest.mark.parametrize("button", [each for each in BUTTONS if each.kind != "act"], ids=lambda b: b.called)
def test_what_a_button_writes_is_read(button: SignButton) -> None:
    plain = parse_exercise("1/8: RL")
    assert parse_exercise(written(button)) != plain or button.text == "1/8"


def test_each_button_is_called_in_its_own_words() -> None:
    names = [button.called for button in BUTTONS]
    assert len(set(names)) == len(names)
