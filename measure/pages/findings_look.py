"""How controls of findings look: targets for a gloved finger, and a tick on what is chosen."""

from measure.pages.findings_hours import HOUR
from measure.pages.findings_pain import RATING

_OURS = '[class*="st-key-finding-"]'
_BUTTONS = f'{_OURS} [data-testid="stButtonGroup"] button'
_HOURS = f'[class*="-{HOUR} "] [role="radiogroup"]'
_PAIN = f'[class*="-{RATING} "] [role="radiogroup"]'

LOOK = f"""
<style>
  {_BUTTONS} {{ min-width: 2.9rem; min-height: 3.2rem; font-size: 1.05rem; white-space: normal; }}
  {_BUTTONS}[data-selected="true"] {{ font-weight: 700; outline: 2px solid; outline-offset: -2px; }}
  {_BUTTONS}[data-selected="true"] p::before {{ content: "\\2713\\00a0"; }}
  {_OURS} [data-testid="stButtonGroup"] > div {{ gap: 0.5rem; }}
  {_OURS} [data-testid="stWidgetLabel"] p {{ font-size: 1rem; }}
  {_HOURS} {{ display: grid !important; grid-template-columns: repeat(6, 1fr); gap: 0.25rem !important; }}
  {_PAIN} {{ display: grid !important; grid-template-columns: repeat(6, 1fr); gap: 0.25rem !important; }}
  {_HOURS} button, {_PAIN} button {{
    width: 100%; padding: 0; border: 1px solid; border-radius: 0.5rem !important; margin: 0 !important;
  }}
  {_HOURS} button[data-selected="true"] p::before, {_PAIN} button[data-selected="true"] p::before {{ content: ""; }}
  {_OURS} [data-testid="stPopoverButton"] {{ min-height: 3rem; }}
  {_OURS} [data-testid="stDateInput"] button {{ min-width: 2.9rem; min-height: 3.2rem; }}
  @media (min-width: 700px) {{
    {_HOURS} {{ grid-template-columns: repeat(12, 1fr); }}
    {_PAIN} {{ grid-template-columns: repeat(11, 1fr); }}
  }}
</style>
"""
"""One style sheet; the app's own applies as well."""
