"""Where the close-up network sees the edges of a flank, against where they are.

    python -m calibration.closeup.edges sample_images

Prints, for each edge and place along it, the true v (root, top) or u (toe, heel) of the points where the
network sees the flank end: median and the middle 68 %. Where `contactread.flank.rigid` takes root and top to
be seen lies between these medians and those on another renderer's pictures.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np

from calibration.accuracy import asked_teeth, corners_of, truths
from calibration.finder.accuracy import middle
from contactread.errors import ContactreadError
from contactread.flank.closeup import edges_of, look_closely, slopes
from contactread.flank.corners import flanks_from_corners
from contactread.flank.finder import find_flanks
from contactread.flank.flank import FlankMap
from contactread.flank.rigid import EDGE_U, EDGE_V
from contactread.photo.load import load_photo


def place_on(one: FlankMap, point: np.ndarray, u: float, v: float) -> tuple[float, float]:
    """u and v of a pixel on a flank, by Newton's method from a guess."""
    uv = np.array([[u, v]])
    for _ in range(8):
        off = point - one(uv[:, 0], uv[:, 1])
        uv = uv + np.clip(np.linalg.solve(slopes(one, uv), off[..., None])[..., 0], -0.1, 0.1)
    return float(uv[0, 0]), float(uv[0, 1])


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("folder", type=Path)
    args = parser.parse_args()
    found: dict[tuple[str, float], list[float]] = {}
    for path, truth in truths(args.folder):
        asked = asked_teeth(truth)
        if len(asked) < 2 or truth.get("flank_shown") is None:
            continue
        photo = load_photo(path)
        try:
            seen = find_flanks(photo, truth["flank_shown"])
        except ContactreadError as error:
            print(f"{path.name}: refused, {error.code}")
            continue
        true = flanks_from_corners(photo, corners_of(asked), None, truth["flank_shown"])
        rolled = [c.painted_chance * c.rolled_chance for c in seen.closeups]
        closeups = look_closely(photo.pixels, list(seen.flanks), rolled)
        for flank, closeup in zip(seen.flanks, closeups, strict=True):
            apart = [float(np.linalg.norm(middle(flank.corners) - middle(t.corners))) for t in true]
            if min(apart) > 0.3 * flank.length_px:
                continue
            own = true[int(np.argmin(apart))]
            [edges] = edges_of([flank], [closeup])
            for k in np.flatnonzero(np.linalg.norm(edges.normals, axis=1)):
                at_u, at_v = float(EDGE_U[k]), float(EDGE_V[k])
                u, v = place_on(own.map, edges.places[k], at_u, at_v)
                if 0 < at_u < 1:
                    found.setdefault(("root" if at_v == 0 else "top", at_u), []).append(v)
                else:
                    found.setdefault(("toe" if at_u == 0 else "heel", at_v), []).append(u)
    for (edge, at), values in sorted(found.items()):
        low, half, high = np.percentile(values, (16, 50, 84))
        spread = f"middle 68 % {low:+.3f} to {high:+.3f}"
        print(f"{edge:4s} at {at:.1f}: median {half:+.3f}, {spread}, {len(values)} seen")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
