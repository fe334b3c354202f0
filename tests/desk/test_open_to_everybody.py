"""What pages are held to in a browser tells what shuts somebody out, at each width and scheme."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from tests.browser import assert_open_to_everybody

pytestmark = pytest.mark.siege

FRAME = """<!doctype html><html lang="en"><head><title>Jigs</title>
<meta name="viewport" content="width=device-width"><style>
body {{ background: #fff; color: #111; }} a {{ color: #00c; }} {style}
</style></head><body><main><h1>Jigs</h1>{body}</main></body></html>"""
DARK = "@media (prefers-color-scheme: dark)"
NARROW = "@media (max-width: 40rem)"
TEXT = "<p class='a'>Marsh</p>"
PLATE = "<div style='position: relative'><p class='a'>Marsh</p><div class='b'></div></div>"
CHANGED = """<input aria-label="Packs"><script>
addEventListener("resize", () => {
  if (innerWidth < 400) document.querySelector("input").removeAttribute("aria-label");
});
</script>"""
LINK = "<p class='a'>Six of <a href='#b'>first pattern</a> go to the shop on the hill.</p>"


@pytest.fixture(scope="module")
def page(chromium: Any) -> Iterator[Any]:
    """A page that has been looked at: what was enough there must not stand for what is not."""
    context = chromium.new_context()
    page = context.new_page()
    for body in (TEXT, PLATE, LINK, "<p class='a'>Marsh <b>and</b> more</p>"):
        page.set_content(FRAME.format(style="", body=body))
        assert_open_to_everybody(page, body)
    yield page
    context.close()


@pytest.mark.parametrize(("style", "body", "says"), [
    (".a { color: #999 }", TEXT, "1440, 'light'.*#999999"),
    (f"{DARK} {{ .a {{ color: #999 }} }}", TEXT, "1440, 'dark'.*#999999"),
    (f"{NARROW} {{ .a {{ color: #999 }} }}", TEXT, "360, 'dark'.*#999999"),
    (f"{NARROW} {{ .a {{ background: #222 }} }}", TEXT, "360, 'dark'.*#222222"),
    (f"{NARROW} {{ main {{ background: #222 }} }}", TEXT, "360, 'dark'.*#222222"),
    (f"{NARROW} {{ .a {{ opacity: .3 }} }}", TEXT, "360, 'dark'.*contrast"),
    (f".a {{ color: #888; font-size: 2rem }} {NARROW} {{ .a {{ font-size: 1rem }} }}", TEXT,
     "360, 'dark'.*#888888"),
    (f".a {{ color: #888; font: bold 20px serif }} {NARROW} {{ .a {{ font-weight: 400 }} }}", TEXT,
     "360, 'dark'.*#888888"),
    (".b { position: absolute; z-index: -1; inset: 0 0 0 80%; background: #222 } "
     ".a { width: 9rem } main { position: relative; z-index: 0 } "
     f"{NARROW} {{ .b {{ left: 0 }} }}", PLATE, "360, 'dark'.*#222222"),
    ("a { text-decoration: none; color: #223 }", LINK, "1440, 'light'.*link-in-text-block"),
    (f"{DARK} {{ a {{ text-decoration: none; color: #223 }} }}", LINK, "1440, 'dark'.*link-in"),
    (f"{NARROW} {{ a {{ text-decoration: none; color: #223 }} }}", LINK, "360, 'dark'.*link-in"),
    (f".b {{ display: none }} {NARROW} {{ .b {{ display: block }} }}",
     "<label class='b'><input></label>", "360, 'dark'.*label"),
    (".b { height: 4rem; overflow: auto }", f"<div class='b'><p>{'Marsh and ink ' * 9}</p></div>",
     "360, 'dark'.*scrollable"),
    (f".b {{ left: -99rem; position: absolute }} {NARROW} {{ .b {{ left: 0 }} }}",
     "<p class='b'><button></button></p>", "1440, 'light'.*button-name"),
    ("", CHANGED, "360, .*label"),
    (".b { width: 30rem }", "<p class='b'>Marsh</p>", "360, 'dark', 1[0-9][0-9]"),
    ("@media (width: 720px) { .b { width: 50rem } }", "<p class='b'>Marsh</p>", "720, "),
])  # fmt: skip
def test_what_shuts_somebody_out_is_told(page: Any, style: str, body: str, says: str) -> None:
    page.set_content(FRAME.format(style=style, body=body))
    with pytest.raises(AssertionError, match=f"(?s){says}"):
        assert_open_to_everybody(page, "a page")
    page.set_viewport_size({"width": 1280, "height": 720})
    page.emulate_media(color_scheme="light")
