"""The usual cautions, short, as they are posted. The whole text is docs/cautions.md."""

__all__ = ["BUILDING", "RULE", "RUNNING", "TELLTALE", "TURNING"]

RULE = (
    "passes: every gap is at least its allowance; marginal: it clears, with less than the "
    "allowance; does not fit: it fouls; not measured: a figure is missing."
)

RUNNING = (
    "First trip of any car slowly, by hand. Hands and hair clear of moving trains; children held "
    "back; power off before reaching in; never catch a stuck engine by hand. The figures advise, "
    "the tape decides."
)

TELLTALE = (
    "Soft cords only, on a support that gives way. After hanging one, push the tallest car that "
    "passes and the lowest that does not through it by hand."
)

BUILDING = (
    "Nobody leans or stands on a deck that was not built for it. Mind eyes, dust and blades when a "
    "deck is cut. Outdoor electrics by local code and a licensed electrician, behind a GFCI/RCD."
)

TURNING = (
    "Never turn a nut with a train on the deck. Power off; nobody beneath it, and no fingers "
    "between nut and bracket. Go round in several passes, a turn or two at a time, so that no "
    "board is strained; then measure again. The figures advise, the tape decides."
)
