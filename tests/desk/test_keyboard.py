"""What the browser tests press and type finds what a keyboard can't do."""

from __future__ import annotations

from typing import Any

import pytest

from tests.desk.keyboard import choose, press, tab_to, write

pytestmark = pytest.mark.siege

FIELDS = '<label for="a">Shop</label><input id="a"><button>Ship <span class="unseen">it</span>'
TRAP = "<input id=a onblur='setTimeout(() => this.focus())' onkeydown='event.preventDefault()'>"


def test_a_field_is_filled_in_and_a_button_is_pressed(chromium: Any) -> None:
    page = chromium.new_page()
    page.set_content(f"{FIELDS}</button><select id=s><option>slip<option>six packs</select>")
    write(page, "Shop", "The Odd Pail")
    assert page.input_value("#a") == "The Odd Pail"
    choose(page, "s", "six packs")
    page.evaluate("document.querySelector('button').onclick = () => { document.title = 'went' }")
    press(page, "Ship")
    assert page.title() == "went"
    page.close()


@pytest.mark.parametrize(("body", "why"), [
    (f"{FIELDS}</button><button tabindex=-1>Pay</button>", "no way to Pay"),
    (f"<style>input {{ outline: none }}</style>{FIELDS}</button><button>Pay</button>", "not seen"),
    ("<input tabindex=2><input tabindex=1><button>Pay</button>", "goes back"),
    ("<div style='position: fixed; left: -99rem'><input></div><button>Pay</button>", "outside"),
    (f"{TRAP}<button>Pay</button>", "held fast"),
])  # fmt: skip
def test_what_a_keyboard_can_t_do_is_told(chromium: Any, body: str, why: str) -> None:
    page = chromium.new_page()
    page.set_content(body)
    with pytest.raises(AssertionError, match=why):
        tab_to(page, "Pay")
    page.close()
