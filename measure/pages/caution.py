"""What every page that measures says at its end."""

import streamlit as st


def caution() -> None:
    """Say what the numbers are for, and what can't wait for them."""
    st.caption(
        "For documentation; it does not diagnose. Spreading redness, fever, new or severe pain, exposed bone, or a "
        "cold, pale or numb foot: contact the provider now, as your facility's policy says."
    )
