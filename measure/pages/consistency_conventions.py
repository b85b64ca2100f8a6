"""How length and width are taken, in words that need no explanation."""

from measure.geometry import Convention

CONVENTIONS = {
    Convention.LONGEST_PERPENDICULAR: "Longest length, width at right angles to it",
    Convention.HEAD_TO_TOE: "Head to toe, width from side to side",
}
