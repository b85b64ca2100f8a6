"""The photo on the page, prepared once: a session keeps the last one, for this person only.

It lives in a room of its own because a page's own classes are made anew at every run, so that what the session keeps
would no longer be one of them.
"""

import os
from dataclasses import dataclass

import cv2
import numpy as np
import streamlit as st

from calibration.errors import EbblineError
from measure.overlay import draw_prepared, encoded
from measure.photo import read_photo
from measure.pipeline import Prepared, prepare
from measure.proposal import NETWORK
from measure.server import METHOD_VARIABLE

_OPENED = "opened"
_OWNER = "opened-for"
MEASURED = "measured"
"""Where the session keeps what the last run measured in the photo."""

_PICTURE_PX = 1400
"""Width of a picture on the page, on fine screens; Streamlit would make a wider one smaller at every run."""


@dataclass(frozen=True)
class Opened:
    """A photo that was prepared, or the sentence that says why it could not be.

    Attributes
    ----------
    upload : str
        The chooser's number of the file.
    picture : bytes
        JPEG of the photo with its sticker as found; empty where there is none.
    data : bytes
        The file as it came, for the record.
    """

    upload: str
    prepared: Prepared | None
    trouble: str
    picture: bytes = b""
    data: bytes = b""


def kept() -> Opened | None:
    """Return the photo that was prepared last: a chooser is empty after a visit to another page."""
    photo = st.session_state.get(_OPENED)
    return photo if isinstance(photo, Opened) else None


def is_anothers(owner: str) -> bool:
    """Whether the photo that is kept was opened for something else; from now on photos are opened for this owner.

    A photo that was opened for nothing in particular goes to whoever asks first.

    Parameters
    ----------
    owner : str
        What photos are for: the key of a wound, a past visit, or the page *Measure*.
    """
    before = st.session_state.get(_OWNER, owner)
    st.session_state[_OWNER] = owner
    return bool(before != owner and kept())


def forget() -> None:
    """Forget the photo, because a person took it away or chose another one."""
    st.session_state.pop(_OPENED, None)
    st.session_state.pop(MEASURED, None)


def opened(upload: str, data: bytes, name: str) -> Opened:
    """Prepare a photo, or return it as it was prepared at an earlier run of the page."""
    photo = kept()
    if photo and photo.upload == upload:
        return photo
    forget()
    with st.spinner("Looking for the sticker and the wound ..."):
        try:
            prepared = prepare(read_photo(data, name), method=os.environ.get(METHOD_VARIABLE, NETWORK))
        except EbblineError as error:
            fresh = Opened(upload, None, str(error))
        else:
            fresh = Opened(upload, prepared, "", _picture(prepared), data)
    st.session_state[_OPENED] = fresh
    return fresh


def _picture(prepared: Prepared) -> bytes:
    drawn = draw_prepared(prepared)
    scale = min(1.0, _PICTURE_PX / drawn.shape[1])
    small = cv2.resize(drawn, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    return encoded(np.asarray(small, dtype=np.uint8), ".jpg")
