"""Photos behind signed links: who gets them, for how long, how many, and what is in the files."""

from io import BytesIO
from types import SimpleNamespace
from urllib.parse import parse_qs, urlsplit

import cv2
import numpy as np
import pytest
from PIL import Image
from streamlit.testing.v1 import AppTest

from measure.kept_photos import KeptPhotos, PhotoGoneError, PhotoLinkError
from measure.photo import Photo, read_photo


def photo(width=3000, height=2000, sha="ab"):
    ramp = np.linspace(0, 255, width).astype(np.uint8)
    pixels = np.dstack([np.tile(ramp, (height, 1)), np.full((height, width, 2), 90, dtype=np.uint8)])
    return Photo("ramp.png", pixels, sha * 32, None, None)


@pytest.fixture
def clock():
    """Give seconds that a test moves on."""
    return SimpleNamespace(now=0.0)


@pytest.fixture
def kept(clock):
    return KeptPhotos(lease_s=3600, clock=lambda: clock.now)


def parts(link):
    """Take a link apart as the server does."""
    address = urlsplit(link)
    _, room, name, file = address.path.split("/")
    assert room == "photo"
    return name, file.removesuffix(".jpg"), parse_qs(address.query)["signature"][0]


def opened(kept, link):
    return Image.open(BytesIO(kept.picture(*parts(link))))


def test_a_preview_and_the_whole_photo(kept):
    links = kept.links(photo(), "visit")
    assert opened(kept, links.preview).size == (2048, 1365)
    full = opened(kept, links.full)
    assert full.size == (3000, 2000)
    assert full.format == "JPEG"
    np.testing.assert_allclose(np.asarray(full)[1000], photo().pixels[1000], atol=6)


def test_a_small_photo_is_its_own_preview(kept):
    links = kept.links(photo(800, 600), "visit")
    assert opened(kept, links.preview).size == (800, 600)


def test_the_orientation_is_applied_and_no_exif_is_left(kept):
    """A picture of 400 x 300 px that the camera notes as turned (TIFF 6.0, orientation 6), with a place and a maker."""
    exif = Image.Exif()
    exif[0x0112] = 6
    exif[0x010F] = "Maker"
    file = BytesIO()
    Image.new("RGB", (400, 300), (120, 80, 60)).save(file, "JPEG", exif=exif)
    links = kept.links(read_photo(file.getvalue(), "turned.jpg"), "visit")
    shown = opened(kept, links.full)
    assert shown.size == (300, 400)
    assert not shown.getexif()
    assert b"Exif" not in kept.picture(*parts(links.full))
    assert b"Maker" not in kept.picture(*parts(links.full))


# Who gets them


def test_the_links_of_one_visit_stay_the_same_and_encode_once(kept, monkeypatch):
    first = kept.links(photo(), "visit")
    monkeypatch.setattr("measure.kept_photos._pictures", lambda _: pytest.fail("encoded twice"))
    assert kept.links(photo(), "visit") == first


def test_another_visit_or_photo_or_process_gets_other_links(kept):
    links = [kept.links(photo(), "visit"), kept.links(photo(), "other"), kept.links(photo(sha="cd"), "visit")]
    links.append(KeptPhotos().links(photo(), "visit"))
    assert len({link for pair in links for link in pair}) == 8


def test_a_link_does_not_tell_the_photo(kept):
    assert "ab" * 8 not in "".join(kept.links(photo(), "visit"))


@pytest.mark.parametrize(
    ("part", "changed"), [(2, ""), (2, "0" * 64), (2, "ü" * 64), (1, "full"), (1, "../full"), (0, "0" * 32)]
)
def test_a_link_that_was_changed_opens_nothing(kept, part, changed):
    link = list(parts(kept.links(photo(), "visit").preview))
    link[part] = changed
    with pytest.raises(PhotoLinkError, match="not signed as it should be: open the photo from its page") as refused:
        kept.picture(*link)
    assert refused.value.status == 403


# For how long


def test_a_link_ends_an_hour_after_the_page_last_asked(kept, clock):
    link = parts(kept.links(photo(), "visit").full)
    clock.now = 3599
    assert kept.picture(*link)
    kept.links(photo(), "visit")
    clock.now = 2 * 3598
    assert kept.picture(*link)
    clock.now = 3599 + 3601
    with pytest.raises(PhotoGoneError, match="no longer kept here: go back to its page") as refused:
        kept.picture(*link)
    assert refused.value.status == 404


def test_opening_a_link_does_not_prolong_it(kept, clock):
    link = parts(kept.links(photo(), "visit").full)
    clock.now = 3000
    kept.picture(*link)
    clock.now = 3700
    with pytest.raises(PhotoGoneError):
        kept.picture(*link)


def test_a_page_that_comes_back_late_gets_the_same_link_to_work_again(kept, clock):
    links = kept.links(photo(), "visit")
    clock.now = 10_000
    assert kept.links(photo(), "visit") == links
    assert opened(kept, links.full).size == (3000, 2000)


# How many


def test_the_oldest_is_dropped_and_the_newest_always_stays():
    kept = KeptPhotos()
    links = kept.links(photo(800, 600), "a")
    size = 2 * len(kept.picture(*parts(links.full)))
    kept = KeptPhotos(max_bytes=int(2.5 * size))
    links = [kept.links(photo(800, 600), visit) for visit in ("a", "b")]
    kept.links(photo(800, 600), "a")  # asked for again, so "b" is the older one now
    links.append(kept.links(photo(800, 600), "c"))
    assert kept.picture(*parts(links[0].full))
    assert kept.picture(*parts(links[2].full))
    with pytest.raises(PhotoGoneError):
        kept.picture(*parts(links[1].full))
    large = kept.links(photo(), "d")
    assert kept.picture(*parts(large.full))


# Pictures that were made for a page


def made(value=120):
    return bytes(cv2.imencode(".jpg", np.full((60, 80, 3), value, np.uint8))[1])


def test_a_made_picture_is_given_as_it_came_and_its_link_stays(kept):
    link = kept.link(made(), "visit")
    assert kept.picture(*parts(link)) == made()
    assert kept.link(made(), "visit") == link
    assert len({link, kept.link(made(), "other"), kept.link(made(90), "visit")}) == 3


def test_a_made_picture_ends_like_a_photo(kept, clock):
    link = parts(kept.link(made(), "visit"))
    with pytest.raises(PhotoLinkError, match="not signed"):
        kept.picture(link[0], link[1], "0" * 64)
    clock.now = 3601
    with pytest.raises(PhotoGoneError):
        kept.picture(*link)


def test_a_made_picture_holds_no_exif(kept):
    exif = Image.Exif()
    exif[0x010F] = "Maker"
    file = BytesIO()
    Image.new("RGB", (40, 30)).save(file, "JPEG", exif=exif)
    with pytest.raises(ValueError, match="made from pixels alone"):
        kept.link(file.getvalue(), "visit")
    with pytest.raises(ValueError, match="made from pixels alone"):
        kept.link(b"\x89PNG", "visit")


# On a page


def _page():
    import streamlit as st

    from measure.pages.photo_link import photo_links
    from tests.test_kept_photos import photo

    links = photo_links(photo(800, 600))
    st.text(links.preview)
    st.text(links.full)
    st.button("again")


def test_a_page_gets_its_links_without_a_server_and_keeps_them_over_runs():
    page = AppTest.from_function(_page, default_timeout=90).run()
    assert not page.exception
    links = [text.value for text in page.text]
    assert links[0].startswith("/photo/")
    assert [text.value for text in page.button[0].click().run().text] == links
    assert [text.value for text in AppTest.from_function(_page, default_timeout=90).run().text] != links


def test_links_begin_with_the_base_path(monkeypatch):
    import streamlit as st

    monkeypatch.setattr(st, "get_option", {"server.baseUrlPath": "/tools/ui/"}.get)
    page = AppTest.from_function(_page, default_timeout=90).run()
    assert page.text[0].value.startswith("/tools/ui/photo/")
