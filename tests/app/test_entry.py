"""The field for a reading: figures go in, letters stay keys."""

from typing import ClassVar

import pytest
from screens.look import press
from textual.app import App

from linkcheck.app.widgets.entry import ReadingEntry, WordChoice


class Field(App):
    BINDINGS: ClassVar = [("s", "note('s')"), ("k", "note('k')"), ("m", "note('m')")]

    def __init__(self):
        super().__init__()
        self.acted, self.sent = [], []

    def compose(self):
        yield ReadingEntry()
        yield WordChoice()

    def action_note(self, key):
        self.acted.append(key)

    def on_input_submitted(self, event):
        self.sent.append(event.value)

    def on_option_list_option_selected(self, event):
        self.sent.append(event.option.id)


@pytest.mark.parametrize("typed", ["12.41", "-0.02", "59,8", "340mV", "4.7k", "1.2M", "340 m"])
async def test_what_belongs_to_a_reading_goes_in(typed):
    app = Field()
    async with app.run_test() as pilot:
        app.query_one(ReadingEntry).focus()
        await press(app, pilot, *typed, "enter")
        assert app.sent == [typed]
        assert app.acted == []


async def test_a_letter_is_a_key_of_the_page_unless_it_is_a_unit_behind_a_digit():
    app = Field()
    async with app.run_test() as pilot:
        app.query_one(ReadingEntry).focus()
        await press(app, pilot, "k", "m", "s", "4", "s", "k")
        assert app.acted == ["k", "m", "s", "s"]
        assert app.query_one(ReadingEntry).value == "4k"


async def test_figures_take_the_place_of_ol_and_of_what_was_sent():
    app = Field()
    async with app.run_test() as pilot:
        field = app.query_one(ReadingEntry)
        field.focus()
        field.put_open()
        await press(app, pilot, "6", "0", "enter", "7")
        assert app.sent == ["60"]
        assert field.value == "7"
        await press(app, pilot, "escape")
        assert field.value == ""


async def test_a_word_is_chosen_by_its_number():
    app = Field()
    async with app.run_test() as pilot:
        choice = app.query_one(WordChoice)
        choice.offer(("no_power", "silent", "errors", "frames"))
        choice.focus()
        await press(app, pilot, "5", "3")
        assert app.sent == ["errors"]
