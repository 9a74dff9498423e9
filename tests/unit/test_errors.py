"""Errors go from process to process whole: lists of takes are heard in several."""

from __future__ import annotations

import pickle

from evenhand.errors import BadExercise, UnreadableRecording, WrongUse


def test_an_error_survives_the_way_between_processes() -> None:
    for error in (
        BadExercise(column=3, found="'X'", must_be="R, L or -", text="RLX"),
        UnreadableRecording(name="a.wav", got="it is empty", do="Record it again."),
        WrongUse("a plain sentence."),
    ):
        again = pickle.loads(pickle.dumps(error))  # noqa: S301 - our own bytes
        assert type(again) is type(error)
        assert str(again) == str(error)
        assert vars(again) == vars(error)
