"""A jig's photo is turned, cut to the jig, set in its pattern's frame and freed of its ground."""

from __future__ import annotations

import io
import shutil
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from labeler import marks
from labeler.catalog.model import PhotoBox, PhotoView, Product
from labeler.catalog.read import readable
from labeler.drawing.cutout import Turn, find, lab, srgb
from labeler.drawing.jig_photos import JigPhoto, jig_photo, jig_proportion, prepare_jig
from labeler.units import Length
from tests.drawing.jigs import Kind, Shot, jig_on

DEMO = Path(__file__).resolve().parents[2] / "demo_catalog"
INCH = 72.0


@pytest.fixture(scope="module")
def skirted() -> Product:
    catalog, _ = readable(DEMO)
    return next(one for one in catalog.products if one.sku == "RM-38-40-SBR")


@pytest.fixture(scope="module")
def bell() -> Product:
    catalog, _ = readable(DEMO)
    one = next(one for one in catalog.products if one.pattern.name == "GRAVEL BELL")
    long = one.pattern.model_copy(update={"length": Length.parse("3 1/2 in")})
    return one.model_copy(update={"pattern": long})


def kept(shot: Shot, path: Path, **options: object) -> JigPhoto:
    shot.photo.save(path, quality=92, compress_level=1, **options)  # type: ignore[arg-type]
    return JigPhoto(path)


def shown(image: marks.Image) -> np.ndarray:
    with Image.open(io.BytesIO(image.data)) as opened:
        return np.asarray(opened.convert("RGBA")).astype(float)


def printed(photo: JigPhoto, inches: float = 1.0) -> np.ndarray:
    image, _ = prepare_jig(photo, inches * INCH, inches * INCH / jig_proportion(photo))
    return shown(image)


# CIE 15:2004, 8.2.1, and IEC 61966-2-1:1999, 5.2: the values of pure red, as published by both
# CSS Color 4, 10.2 (the sample of its code), and the colour calculators that follow them.
def test_colors_come_to_cielab_and_back() -> None:
    red = lab(np.array([[[255, 0, 0]]], np.uint8))
    assert red[0, 0] == pytest.approx([53.24, 80.09, 67.20], abs=0.1)
    colours = np.random.default_rng(1).integers(0, 256, (20, 20, 3)).astype(np.uint8)
    assert np.abs(srgb(lab(colours)) - colours).max() < 1.5


@pytest.mark.daily("0.7-blue", "0.3-planks")
@pytest.mark.parametrize(
    ("share", "ground"),
    [(share, ground) for share in (0.3, 0.7) for ground in ("blue", "planks", "slate")]
    + [(0.3, "paper"), (0.7, "beige")],
)
def test_the_jig_is_found_whatever_it_lies_on(skirted: Product, ground: Kind, share: float) -> None:
    shot = jig_on(skirted, ground, share=share)
    found = find(shot.photo)
    assert found.box is not None
    near = 0.1 if ground == "planks" else 0.025  # brown strands on brown planks
    assert np.abs(np.array(found.box) - shot.box).max() < near


@pytest.mark.daily("slate")
@pytest.mark.parametrize(
    ("ground", "fault"),
    [
        ("paper", ""),
        ("beige", ""),
        ("blue", ""),
        ("planks", "a ground with a grain or pattern"),
        ("slate", "a dark ground"),
    ],
    ids=["paper", "beige", "blue", "planks", "slate"],
)
def test_what_is_not_plain_enough_stays_and_is_told(
    skirted: Product, tmp_path: Path, ground: Kind, fault: str
) -> None:
    photo = kept(jig_on(skirted, ground), tmp_path / "jig.jpg")
    image, findings = prepare_jig(photo, INCH, INCH / jig_proportion(photo))
    clear = (shown(image)[..., 3] < 255).any()
    told = [each for each in findings if each.rule == "photo-ground"]
    assert clear == (fault == "")
    assert [each.found for each in told] == ([fault] if fault else [])
    for each in told:
        assert each.place.file == str(photo.path)
        assert "paper" in each.hint
        assert "jig.jpg" in each.hint


@pytest.mark.siege
def test_a_ground_that_the_catalog_keeps_stays_and_is_not_told(
    skirted: Product, tmp_path: Path
) -> None:
    plain = kept(jig_on(skirted, "planks"), tmp_path / "jig.jpg")
    photo = JigPhoto(plain.path, PhotoView(ground="keep"))
    image, findings = prepare_jig(photo, INCH, INCH / jig_proportion(photo))
    assert findings == ()
    assert (shown(image)[..., 3] == 255).all()


@pytest.mark.daily("blue")
@pytest.mark.parametrize("ground", ["paper", "beige", "blue", "green", "yellow", "gray"])
def test_on_paper_the_cut_jig_looks_as_if_it_had_lain_on_paper(
    bell: Product, tmp_path: Path, ground: Kind
) -> None:
    shot = jig_on(bell, ground, (800, 600), share=0.8, shadow=0.0)
    sides = {"left": "0 %", "top": "0 %", "right": "100 %", "bottom": "100 %"}
    view = PhotoView(box=PhotoBox.model_validate(sides), head="left")
    photo = JigPhoto(kept(shot, tmp_path / "jig.png").path, view)
    # 800 x 600 pixels and 20 about them on every side, at 300 to the inch
    seen = printed(photo, 840 / 300)[20:620, 20:820]
    alpha = seen[..., 3:] / 255
    on_white = seen[..., :3] * alpha + 255 * (1 - alpha)
    true = shot.ink * shot.cover[..., None] + 255 * (1 - shot.cover[..., None])
    apart = np.abs(on_white - true).mean(axis=-1)
    inside = shot.cover > 0
    assert apart.mean() < 3
    assert apart[inside].mean() < 11
    assert apart[~inside].mean() < 1.5


@pytest.mark.siege
def test_no_rim_of_the_ground_stays_about_the_jig(skirted: Product, tmp_path: Path) -> None:
    seen = printed(kept(jig_on(skirted, "blue", shadow=0.0), tmp_path / "jig.jpg"))
    # On a blue table, with nothing blue in it: olive, violet and orange (its recipe).
    solid = seen[..., 3] > 128
    bluish = solid & (seen[..., 2] > seen[..., 0] + 25) & (seen[..., 2] > seen[..., 1] + 10)
    violet = bluish & (seen[..., 0] > seen[..., 1])
    assert (bluish & ~violet).sum() < 0.02 * solid.sum()


@pytest.mark.siege
def test_a_shadow_fades_to_nothing_before_the_frame_ends(skirted: Product, tmp_path: Path) -> None:
    seen = printed(kept(jig_on(skirted, "paper", shadow=0.5), tmp_path / "jig.jpg"))
    edge = np.concatenate([seen[0, :, 3], seen[-1, :, 3], seen[:, 0, 3], seen[:, -1, 3]])
    assert np.quantile(edge, 0.95) < 40
    assert 0 < np.median(seen[..., 3][(seen[..., 3] > 0) & (seen[..., 3] < 200)]) < 90


@pytest.mark.daily("-28-True-due6")
@pytest.mark.parametrize(
    ("turned", "mirrored", "due"),
    [
        (0, False, Turn(False, 0)),
        (8, False, Turn(False, 0)),
        (0, True, Turn(True, 0)),
        (90, False, Turn(False, -90)),
        (-90, False, Turn(False, 90)),
        (28, False, Turn(False, -28)),
        (-28, True, Turn(True, -28)),
    ],
)
def test_a_jig_is_laid_with_its_head_left(
    bell: Product, turned: float, mirrored: bool, due: Turn
) -> None:
    turn = find(jig_on(bell, "beige", (600, 600), 0.6, turned, mirrored).photo).turn
    assert turn.mirrored == due.mirrored
    assert turn.degrees == pytest.approx(due.degrees, abs=6)


def test_a_turn_and_the_way_back_are_one() -> None:
    for turn in (Turn(), Turn(True, 0), Turn(False, -90), Turn(True, 33.0)):
        assert turn.back(*turn.turned(0.3, -0.2)) == pytest.approx((0.3, -0.2))


@pytest.mark.siege
def test_a_telephones_note_turns_the_photo_before_the_jig_is_laid(
    bell: Product, tmp_path: Path
) -> None:
    shot = jig_on(bell, "paper")
    upright = printed(kept(shot, tmp_path / "upright.png"))
    exif = Image.Exif()
    exif[0x0112] = 6  # CIPA DC-008-2012 (Exif 2.3), 4.6.4 A: row 0 right, column 0 top
    lying = replace(shot, photo=shot.photo.transpose(Image.Transpose.ROTATE_90))
    noted = printed(kept(lying, tmp_path / "noted.png", exif=exif))
    high = min(len(noted), len(upright))
    assert abs(len(noted) - len(upright)) <= 1
    assert np.abs(noted[:high] - upright[:high]).mean() < 6  # lying or mirrored: 40 and more


@pytest.mark.siege
def test_photos_of_a_pattern_stand_in_one_frame(
    skirted: Product, bell: Product, tmp_path: Path
) -> None:
    shots = {
        "a": jig_on(skirted, "paper", share=0.35),
        "b": jig_on(bell, "beige", (600, 600), 0.7, turned=90),
        "c": jig_on(skirted, "planks"),
    }
    for name, shot in shots.items():
        shot.photo.save(tmp_path / f"{name}.jpg", quality=92)
    sisters = tuple((tmp_path / f"{name}.jpg", PhotoView()) for name in shots)
    photos = [JigPhoto(path, view, sisters) for path, view in sisters]
    frames = [jig_proportion(photo) for photo in photos]
    assert max(frames) - min(frames) < 1e-9
    seen = [printed(photo) for photo in photos[:2]]
    lengths = []
    for each in seen:
        columns = np.flatnonzero((each[..., 3] > 200).any(axis=0))
        lengths.append((columns[-1] - columns[0]) / each.shape[1])
    assert lengths == pytest.approx([0.95, 0.95], abs=0.02)


def test_the_catalog_says_where_the_jig_is(skirted: Product, tmp_path: Path) -> None:
    plain = kept(jig_on(skirted, "paper"), tmp_path / "jig.jpg")
    sides = {"left": "40 %", "top": "40 %", "right": "60 %", "bottom": "50 %"}
    view = PhotoView(box=PhotoBox.model_validate(sides), ground="keep")
    assert view.box is not None
    assert view.box.left == Fraction(2, 5)
    photo = JigPhoto(plain.path, view)
    # 120 x 45 pixels of 600 x 450, and 2.5 % of its width about it on every side
    assert jig_proportion(photo) == pytest.approx(120 * 1.05 / (45 + 120 * 0.05))
    whole = JigPhoto(plain.path, PhotoView(show="whole"))
    assert jig_proportion(whole) == pytest.approx(4 / 3)
    assert (printed(whole)[..., 3] == 255).all()


@pytest.mark.siege
def test_the_catalog_says_where_the_head_points(bell: Product, tmp_path: Path) -> None:
    plain = kept(jig_on(bell, "paper"), tmp_path / "jig.png")
    as_drawn, mirrored = printed(plain), printed(JigPhoto(plain.path, PhotoView(head="right")))
    assert np.abs(as_drawn - mirrored[:, ::-1]).mean() < 3
    standing = jig_proportion(JigPhoto(plain.path, PhotoView(head="up")))
    assert standing < 1 < jig_proportion(plain)


def test_a_photo_without_a_jig_is_shown_whole_and_told(tmp_path: Path) -> None:
    path = tmp_path / "bare.jpg"
    Image.new("RGB", (800, 600), (210, 205, 200)).save(path)
    image, findings = prepare_jig(JigPhoto(path), 2 * INCH, 2 * INCH)
    assert [each.rule for each in findings] == ["photo-jig"]
    assert image.width / image.height == pytest.approx(4 / 3, abs=0.01)


@pytest.mark.siege
def test_a_jig_that_was_cut_out_already_stays_as_it_is(bell: Product, tmp_path: Path) -> None:
    shot = jig_on(bell, "paper", shadow=0.0)
    cut = shot.photo.convert("RGBA")
    cut.putalpha(Image.fromarray((shot.cover * 255).astype(np.uint8)))
    cut.save(tmp_path / "cut.png")
    photo = JigPhoto(tmp_path / "cut.png")
    image, findings = prepare_jig(photo, INCH, INCH / jig_proportion(photo))
    assert findings == ()
    covered = (shown(image)[..., 3] / 255).mean() * image.width * image.height
    scale = image.width / 1.05 / ((shot.box[2] - shot.box[0]) * shot.photo.width)
    assert covered == pytest.approx(shot.cover.sum() * scale**2, rel=0.03)


def test_a_coarse_photo_is_told_by_what_of_it_is_printed(skirted: Product, tmp_path: Path) -> None:
    photo = kept(jig_on(skirted, "paper", share=0.25), tmp_path / "small.jpg")
    _, findings = prepare_jig(photo, 2 * INCH, 2 * INCH)
    (told,) = [each for each in findings if each.rule == "picture-coarse"]
    assert 70 <= int(told.found.split()[0]) <= 85  # 600 x 0.25 x 1.05 pixels on two inches


@pytest.mark.siege
def test_the_same_photo_gives_the_same_bytes(skirted: Product, tmp_path: Path) -> None:
    shot = jig_on(skirted, "beige")
    pair = [kept(shot, tmp_path / name) for name in ("one.png", "two.png")]
    one, two = (prepare_jig(photo, INCH, INCH)[0] for photo in pair)
    assert one.data == two.data


def test_the_catalogs_own_words_and_sisters_reach_the_photo(tmp_path: Path) -> None:
    name = "reedmace-delft-craw.jpg"
    photo = jig_photo(DEMO, name)
    assert photo.view == PhotoView()
    assert photo.sisters == ((DEMO / "photos" / name, PhotoView()),)
    assert jig_photo(tmp_path, "any.jpg") == JigPhoto(tmp_path / "photos" / "any.jpg")


def test_a_view_counts_though_nothing_on_sale_shows_the_photo(tmp_path: Path) -> None:
    folder = Path(shutil.copytree(DEMO, tmp_path / "line"))
    (folder / "photos" / "new").mkdir()
    shutil.copy(folder / "photos" / "reedmace-delft-craw.jpg", folder / "photos" / "new" / "a.jpg")
    with (folder / "catalog.toml").open("a", encoding="utf-8") as catalog:
        catalog.write('\n[photos."new/a.jpg"]\nshow = "whole"\n')
    assert jig_photo(folder, "new/a.jpg").view.show == "whole"


def test_a_strip_of_a_photo_has_no_jig_and_is_called_by_its_place(tmp_path: Path) -> None:
    (tmp_path / "photos" / "new").mkdir(parents=True)
    path = tmp_path / "photos" / "new" / "strip.png"
    Image.new("RGB", (2000, 3), "#889988").save(path)
    _, findings = prepare_jig(JigPhoto(path), 2 * INCH, 2 * INCH)
    (told,) = (each for each in findings if each.rule == "photo-jig")
    assert "[photos.'new/strip.png']" in told.hint
