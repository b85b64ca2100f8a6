"""How the edge of a wound looks; where it is undermined is told on the clock (`measure.findings.sizes`)."""

from types import MappingProxyType

from measure.findings.vocabulary import Vocabulary, Word

EDGES: Vocabulary = MappingProxyType(
    {
        "distinct": Word("distinct", "It is clear where the wound ends."),
        "indistinct": Word("indistinct", "It is not clear where the wound ends."),
        "attached": Word("attached", "Level with the wound bed, without a wall."),
        "not attached": Word("not attached", "The edge stands over the bed like a wall."),
        "rolled": Word("rolled (epibole)", "The edge curls under, so that skin grows down instead of across."),
        "new skin": Word("new skin growing in", "A pink or pearly rim grows in from the edge."),
        "thickened": Word("thickened", "Firm, raised tissue along the edge."),
        "callused": Word("callused", "Hard, dry, yellowish skin along the edge."),
        "soggy": Word("soggy (macerated)", "White, soft and wrinkled from moisture."),
        "scarred": Word("scarred (fibrotic)", "Pale, stiff scar along the edge."),
    }
)
"""Several may hold, at different places of one edge (trade words: common practice)."""
