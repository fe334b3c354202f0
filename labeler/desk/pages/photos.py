"""The photos of the line: dropped in, and told which jig they show by looking."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from starlette.responses import Response

from labeler.app.line import LineEdit, save_line
from labeler.app.photos import keep_photos, photos_away, pictures_in, put_photo_away, put_photo_back
from labeler.catalog.model import Catalog, Product
from labeler.catalog.read import readable
from labeler.catalog.structure import PHOTOS
from labeler.desk.page import Ask, Faults, PageRoute, picture
from labeler.desk.pages.take_in import MOST_AT_ONCE, named_by, number_of, photo_named
from labeler.drawing.jig_photos import jig_photo, prepare_jig
from labeler.findings import Finding, LabelerError, Place, stop

_LARGEST = 160_000_000
"""Bytes of one form: some photos as a telephone takes them."""

_SHOWN = 60
_THUMB_PT = 120.0

Look = tuple[str, str]
"""A pattern and a color, by their headings; no color stands for the whole pattern."""


def looks_of(catalog: Catalog) -> dict[Look, list[Product]]:
    """Return what a photo may show, each with its products."""
    patterns = {(one.code, one.name): key for key, one in catalog.file.patterns.items()}
    colours = {one.code: key for key, one in catalog.file.colours.items()}
    found: dict[Look, list[Product]] = {}
    for one in catalog.products:
        if not one.parts:
            pattern = patterns[one.pattern.code, one.pattern.name]
            found.setdefault((pattern, ""), []).append(one)
            found.setdefault((pattern, colours[one.colour.code]), []).append(one)
    return found


def _word(look: Look) -> str:
    return number_of("\n".join(look))


def _names(ask: Ask) -> list[str]:
    """Return the names of the photos in the folder."""
    root = ask.folder / PHOTOS
    found = pictures_in(root) if root.is_dir() else []
    return [path.relative_to(root).as_posix() for path in found]


def show(
    ask: Ask, faults: Faults | None = None, left_out: Sequence[Finding] = ()
) -> Response:  # fmt: skip
    """Show every photo, those first that no product has; and what was wrong with a form."""
    catalog, _ = readable(ask.folder)
    shows: dict[str, dict[str, None]] = {}
    for one in catalog.products:
        if one.photo:
            shows.setdefault(one.photo, {})[one.name] = None
    names = _names(ask)
    told = [name for name in names if name in shows]
    waiting = [name for name in names if name not in shows]
    patterns, colours = catalog.file.patterns, catalog.file.colours
    words: dict[str, list[tuple[str, str]]] = {}
    for look in looks_of(catalog):
        key, colour = look
        said = f"{patterns[key].name}, {colours[colour].name}" if colour else "all of its colors"
        words.setdefault(patterns[key].name, []).append((_word(look), said))
    return ask.shown(
        "photos.html.jinja", faults, shows=shows, told=told, waiting=waiting[:_SHOWN],
        views=catalog.file.photos, more=len(waiting[_SHOWN:]), looks=words, number=number_of,
        most=MOST_AT_ONCE, left_out=left_out, saved=ask.query("saved"),
        kept=ask.query("kept"), away=photos_away(ask.folder), gone=ask.query("away"),
    )  # fmt: skip


def drop(ask: Ask) -> Response:
    """Keep photos that were dropped, small and without camera and place."""
    photos = [one for one in ask.uploads.get("photos", ()) if one.name]
    if not 0 < len(photos) <= MOST_AT_ONCE:
        found = f"{len(photos)} photos" if photos else "none"
        return show(ask, Faults([stop(
            "drop-many" if photos else "drop-none", Place(key="photos"),
            "these are too many at once" if photos else "nothing was chosen", found=found,
            expected=f"one to {MOST_AT_ONCE}",
        )], {"photos": "photos"}))  # fmt: skip
    names, left_out = keep_photos(ask.folder, [(one.name, one.data) for one in photos])
    if left_out:
        return show(ask, left_out=left_out)
    return ask.went_to("/line/photos", kept=str(len(names)))


def tell(ask: Ask) -> Response:
    """Give products the photos that were chosen to show them."""
    catalog, _ = readable(ask.folder)
    known = {_word(look): look for look in looks_of(catalog)}
    names = _names(ask)
    chosen: dict[str, Look] = {}
    for field in ask.fields:
        look = known.get(ask.text(field))
        name = named_by(names, field.removeprefix("p-"))
        if field.startswith("p-") and look and name:
            chosen[name] = look
    keys: dict[Any, Any] = {}
    rows: dict[str, dict[str, str]] = {}
    for name, (pattern, colour) in chosen.items():
        if colour:
            rows |= {one.sku: {"photo": name} for one in looks_of(catalog)[pattern, colour]}
        else:
            keys["patterns", pattern, "photo"] = name
    return _saved(ask, keys, rows)


def untell(ask: Ask) -> Response:
    """Take a photo from the products that it was told to show; its file stays."""
    catalog, _ = readable(ask.folder)
    name = named_by(_names(ask), ask.text("photo"))
    patterns = {key: one for key, one in catalog.file.patterns.items() if one.photo == name}
    whole = {one.name for one in patterns.values()}
    rows = {
        one.sku: {"photo": ""} for one in catalog.products
        if name and one.photo == name and one.pattern.name not in whole
    }  # fmt: skip
    return _saved(ask, {("patterns", key, "photo"): None for key in patterns if name}, rows)


def away(ask: Ask) -> Response:
    """Put a photo's file away, to be put back if that was not meant."""
    name = named_by(_names(ask), ask.text("away"))
    try:
        kept = put_photo_away(ask.folder, name)
    except LabelerError as error:
        return show(ask, Faults(error.findings))
    return ask.went_to("/line/photos", away=kept)


def back(ask: Ask) -> Response:
    """Put a photo back that was put away."""
    try:
        put_photo_back(ask.folder, ask.text("back"))
    except LabelerError as error:
        return show(ask, Faults(error.findings))
    return ask.went_to("/line/photos", done="back")


_SIDES = ("left", "top", "right", "bottom")


def stage(ask: Ask) -> Response:
    """Keep how a photo is shown: as proposed, whole, or the part between four percentages."""
    name = photo_named(_names(ask), ask.text("photo"))
    at = ("photos", name)
    shows = ask.text("shows")
    box = {side: _percent(ask.text(side)) for side in _SIDES} if shows == "part" else None
    keys: dict[Any, Any] = {
        (*at, "show"): "whole" if shows == "whole" else None,
        (*at, "box"): box,
        (*at, "head"): ask.text("head") or None,
        (*at, "ground"): "keep" if ask.text("ground") == "keep" else None,
    }
    catalog, _ = readable(ask.folder)
    if name not in catalog.file.photos:
        said = {key: value for key, value in keys.items() if value is not None}
        keys = {at: {key[-1]: value for key, value in said.items()}} if said else {}
    return _saved(ask, keys, {})


def _percent(typed: str) -> str:
    return f"{typed.strip().removesuffix('%').strip()} %"


def staged(ask: Ask) -> Response:
    """Show a photo small, as it is printed."""
    name = photo_named(_names(ask), ask.part("number"))
    image, _ = prepare_jig(jig_photo(ask.folder, name), _THUMB_PT, _THUMB_PT)
    return picture(image.data, "no-store")


def _saved(ask: Ask, keys: Mapping[Any, Any], rows: Mapping[str, Mapping[str, str]]) -> Response:
    try:
        saved = save_line(LineEdit(ask.folder, keys, rows))
    except LabelerError as error:
        return show(ask, Faults(error.findings))
    return ask.went_to("/line/photos", saved=saved or "same")


PLACES = (
    PageRoute("/line/photos", show),
    PageRoute("/line/photos", drop, post=True, most=_LARGEST, files=MOST_AT_ONCE),
    PageRoute("/line/photos/tell", tell, post=True),
    PageRoute("/line/photos/untell", untell, post=True),
    PageRoute("/line/photos/away", away, post=True),
    PageRoute("/line/photos/back", back, post=True),
    PageRoute("/line/photos/stage", stage, post=True),
    PageRoute("/line/photos/shown/{number}", staged),
)
