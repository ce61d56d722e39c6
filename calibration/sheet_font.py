"""The report's typeface (contactread/show/fonts), cut down from an open one. Needs the extra `pdf`.

apt-get download fonts-croscore && dpkg-deb -x fonts-croscore_*.deb FOLDER
.venv/bin/python calibration/sheet_font.py FOLDER/usr/share/fonts/truetype/croscore
"""

from __future__ import annotations

import argparse
from pathlib import Path

TARGET = Path(__file__).parents[1] / "contactread" / "show" / "fonts"
NAME = "Contact Sheet Sans"  # a changed font carries its own name (OFL 1.1, clause 3)
# Latin, Greek and Cyrillic letters, and the marks of a workshop's sheet.
LETTERS = (
    (0x20, 0x7E), (0xA0, 0x17F), (0x218, 0x21B), (0x2C6, 0x2DD), (0x384, 0x3CE), (0x400, 0x45F),
    (0x490, 0x491), (0x1E9E, 0x1E9E), (0x2010, 0x2027), (0x2030, 0x2033), (0x2039, 0x203A), (0x20AC, 0x20AC),
    (0x2116, 0x2122), (0x2190, 0x2193), (0x2212, 0x2212), (0x2248, 0x2265), (0x25C6, 0x25CB),
)  # fmt: skip


def cut(source: Path, target: Path, weight: str) -> None:
    """Write `target` with the letters above, without hints, under its own name."""
    from fontTools import subset

    options = subset.Options(hinting=False, name_IDs=[0, 1, 2, 3, 4, 5, 6, 13, 14])
    font = subset.load_font(str(source), options)
    cutter = subset.Subsetter(options)
    cutter.populate(unicodes=[code for first, last in LETTERS for code in range(first, last + 1)])
    cutter.subset(font)
    own = {1: NAME, 3: f"{NAME} {weight}", 4: f"{NAME} {weight}", 6: f"{NAME.replace(' ', '')}-{weight}"}
    for record in font["name"].names:
        if record.nameID in own:
            record.string = own[record.nameID]
    subset.save_font(font, str(target), options)


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path, help="where Arimo-Regular.ttf and Arimo-Bold.ttf lie")
    folder = parser.parse_args().folder
    for weight in ("Regular", "Bold"):
        target = TARGET / f"sheet-{weight.lower()}.ttf"
        cut(folder / f"Arimo-{weight}.ttf", target, weight)
        print(f"{target}: {target.stat().st_size} bytes")


if __name__ == "__main__":
    main()
