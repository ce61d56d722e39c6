"""The one registry of quality flags: what can be wrong with a photo or a reading.

A flag either refuses the photo (``refuses``) or is carried with the reading. Help, reports, practice
and the JSON output all take their words from here; nothing else spells out what a flag means.
"""

from __future__ import annotations

from dataclasses import dataclass

from contactread.errors import PhotoError


@dataclass(frozen=True)
class Flag:
    """One thing that can be wrong with a photo or a reading.

    code: stable kebab-case name, the same in JSON, help and the shop book.
    short: two to four words for a table.
    meaning: what it is and why it matters, one sentence.
    next_step: what a mechanic does about it, one sentence.
    refuses: True where a photo with this flag isn't read at all.
    """

    code: str
    short: str
    meaning: str
    next_step: str
    refuses: bool = False

    def refusal(self, detail: str = "") -> PhotoError:
        """The error that refuses a photo for this flag; `detail` is one more sentence of fact."""
        message = f"{self.meaning} {detail}".strip()
        return PhotoError(self.code, message, self.next_step)


FLAGS: tuple[Flag, ...] = (
    # Refusals by what is seen.
    Flag("no-ring-gear", "no ring gear seen", "No ring-gear teeth were found in the photo.",
         "Photograph the painted ring-gear teeth sharply, from 10 to 25 cm, filling half the picture.", True),
    Flag("too-blurred", "too blurred", "The photo is too blurred to find the tooth edges.",
         "Rest the phone on something, tap the painted teeth to focus, and take it again.", True),
    Flag("too-dark", "too dark", "The photo is too dark to tell compound from metal.",
         "Add a work lamp from the side, or switch the flash on, and take it again.", True),
    Flag("glare-over-flanks", "glare over flanks", "Glare covers the flanks, so the patch can't be seen.",
         "Move the lamp or the phone to one side until the shine leaves the painted teeth.", True),
    Flag("too-few-teeth", "too few teeth", "Fewer than two painted teeth can be seen well enough.",
         "Step back a little so that at least three painted teeth are whole in the picture.", True),
    Flag("teeth-too-small", "teeth too small", "The teeth are too small in the photo to measure.",
         "Come closer: one tooth should span at least a sixth of the picture.", True),
    Flag("no-compound", "no compound", "Teeth were found, but no marking compound on them.",
         "Brush compound on three or more teeth, roll both ways, and photograph those teeth.", True),
    Flag("too-oblique", "seen too obliquely", "The flanks are seen almost edge-on.",
         "Turn the gear or move the phone to look straight onto the flank.", True),
    Flag("no-pattern", "no pattern", "Compound is on the teeth, but no contact patch shows in it.",
         "Roll the painted teeth through the mesh under drag, both ways, then photograph them.", True),
    Flag("not-rolled", "not rolled", "The painted teeth were never rolled through the mesh: their compound is whole and wet.",
         "Roll the gears through the painted teeth under drag, both ways, then photograph them.", True),
    # Carried with a reading.
    Flag("blurred", "blurred", "The photo is soft, so edges are less certain.",
         "Hold the phone still and tap to focus for a sharper reading."),
    Flag("glare", "some glare", "Glare hides part of a flank.",
         "Move the lamp to one side if the reading seems doubtful."),
    Flag("dark", "dark", "The photo is dark, so compound and metal are harder to tell apart.",
         "Add light from the side for a surer reading."),
    Flag("cut-off", "teeth cut off", "Some painted teeth leave the picture or are hidden.",
         "Show at least three painted teeth whole."),
    Flag("few-teeth", "few teeth", "Only two teeth could be measured, so scatter can't be judged.",
         "Paint and photograph three or more teeth."),
    Flag("small-teeth", "small teeth", "The teeth are small in the photo, so the reading is coarse.",
         "Come closer for a finer reading."),
    Flag("wet-teeth", "unrolled teeth", "Some painted teeth were never rolled; they have no pattern and aren't measured.",
         "Roll the gears further, so that all painted teeth pass through the mesh."),
    Flag("set-aside", "set aside", "Other photos of this side agree with each other and not with this one, so it doesn't count.",
         "Look at its marked-up picture; if it is right, take the others again."),
    Flag("same-picture", "same view again", "This shows the very view of another photo or frame given, so it counts once.",
         "Take another snap from a little apart, if you have only this one."),
    Flag("scatter", "teeth disagree", "The patch sits differently from tooth to tooth.",
         "Check ring-gear runout and seating before trusting a shim move."),
    Flag("oblique", "seen at a slant", "The flank is seen at a slant, so heights are less certain.",
         "Look straighter onto the flank."),
    Flag("flank-uncertain", "side uncertain", "It isn't certain whether this is the drive or the coast flank.",
         "Say which with --flank convex or --flank concave."),
    Flag("both-flanks", "both sides seen", "The photo shows a pattern on both sides of the teeth; each was read.",
         "Check that each reading is named for the side that you see."),
    Flag("unlike-axle", "not the file's teeth", "The teeth stand otherwise than those that the axle file tells of.",
         "Check that the file is of this axle: its number of ring-gear teeth, face width, spiral angle."),
    Flag("corners-by-hand", "corners by hand", "The flanks were marked by hand.",
         "Check the outlines in the marked-up picture: the reading is as good as the marks."),
)  # fmt: skip

_BY_CODE = {flag.code: flag for flag in FLAGS}


def flag(code: str) -> Flag:
    """The flag with this code; KeyError where there is none."""
    return _BY_CODE[code]
