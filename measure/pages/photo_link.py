"""Links to the photos and pictures on the page, for whoever looks at it now."""

import secrets

import streamlit as st

from measure.kept_photos import KEPT, PhotoLinks
from measure.photo import Photo

_VISIT = "photo-visit"


def photo_links(photo: Photo) -> PhotoLinks:
    """Return links to a preview (2048 px on its longer side) and to the full photo; ask in every run of the page.

    The links are the same at every run of one visit, and answer for an hour after the last one. They begin with the
    server's base path, so that they can stand in a page as they are.
    """
    return PhotoLinks(*map(_below_base, KEPT.links(photo, _visit())))


def picture_link(picture: bytes) -> str:
    """Return a link to a JPEG picture that was made for the page, likewise."""
    return _below_base(KEPT.link(picture, _visit()))


def _visit() -> str:
    return str(st.session_state.setdefault(_VISIT, secrets.token_hex(16)))


def _below_base(link: str) -> str:
    base = str(st.get_option("server.baseUrlPath") or "").strip("/")
    return f"/{base}{link}" if base else link
