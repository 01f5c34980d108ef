"""Templates and prints, read by general-purpose libraries and tools.

- DXF: ezdxf (release, unit, layers, closed lines, the gap along the arc, floor, walls and rails of the hopper)
- shape: shapely (no contour crosses itself, holes lie inside their part and apart from each other)
- PDF: pypdf (paper, pages, no scaling asked for) and pdftoppm (the ruler in pixels)
"""

import math
import os
import shutil
import subprocess
import tempfile
from pathlib import Path

import ezdxf
import ezdxf.path
import numpy as np
from pypdf import PdfReader
from shapely.geometry import Point, Polygon


def meets(points, angle, beyond):
    """Nearest distance beyond a value at which a ray from the origin meets a closed line."""
    a = np.asarray(points)
    b = np.roll(a, -1, axis=0)
    c, s = math.cos(angle), math.sin(angle)
    sa, sb = a[:, 1] * c - a[:, 0] * s, b[:, 1] * c - b[:, 0] * s
    hit = (sa * sb <= 0) & (sa != sb)
    t = sa[hit] / (sa[hit] - sb[hit])
    p = a[hit] + t[:, None] * (b[hit] - a[hit])
    r = p[:, 0] * c + p[:, 1] * s
    r = r[r > beyond]
    return r.min() if len(r) else math.nan


def cuts(folder, name):
    """Closed lines to cut of a part, as points."""
    doc = ezdxf.readfile(folder / f"{name}.dxf")
    lines = []
    for e in doc.modelspace().query('*[layer=="CUT"]'):
        path = ezdxf.path.make_path(e)
        assert path.is_closed, e
        # Ends of arcs and the corners written beside them are one where they are nearer than a thousandth of a millimetre.
        points = []
        for p in path.flattening(0.002):
            if not points or math.dist(points[-1], (p.x, p.y)) > 1e-3:
                points.append((p.x, p.y))
        if math.dist(points[0], points[-1]) <= 1e-3:
            points.pop()
        lines.append(points)
    return doc, lines


def gap(folder, compare, gap_mm, wheel_mm, wrap_deg, end_deg, relief_mm=0.0):
    """Lantern Night as its file says: wheel, gap, wrap and end angle; with a relief the gap closes evenly along the arc."""
    doc, lines = cuts(folder, "side-plate")
    compare("templates, release of the file", float(doc.dxfversion[2:]), 1009, 0)
    compare("templates, unit of the file (4 is millimetres)", doc.header.get("$INSUNITS", 0), 4, 0)
    compare("templates, closed lines to cut on the side plate, at least", min(len(lines), 5), 5, 0)
    end = math.radians(90 + end_deg)
    angles = end + np.radians(np.arange(1, wrap_deg))
    middle = end + math.radians(wrap_deg / 2)
    guide = wheel_mm / 2 + gap_mm
    slot = min((l for l in lines if not math.isnan(meets(l, middle, 0.9 * guide))), key=lambda l: meets(l, middle, 0.9 * guide))
    wanted = gap_mm + relief_mm * (angles - end) / math.radians(wrap_deg)
    off = max(abs(meets(slot, a, 10) - wheel_mm / 2 - w) for a, w in zip(angles, wanted))
    compare(f"templates, gap along the arc with a relief of {relief_mm} mm, most off, mm", off, 0, 0.05)


def sound(folder, compare):
    """Every part: contours that cross nothing, holes inside and apart."""
    bad = parts = 0
    for file in sorted(folder.glob("*.dxf")):
        shapes = sorted((Polygon(line) for line in cuts(folder, file.stem)[1]), key=lambda s: -s.area)
        parts += 1
        bad += sum(not s.is_valid or s.area < 1 for s in shapes)
        for i, a in enumerate(shapes):
            for b in shapes[i + 1 :]:
                # One beside the other, or a hole in it that leaves material.
                if not (a.disjoint(b) or (a.contains(b) and a.exterior.distance(b) > 0.5)):
                    print(f"     {file.name}: {a.bounds} and {b.bounds}")
                    bad += 1
    compare(f"templates, {folder.name}: parts whose contours were looked at, at least", min(parts, 8), 8, 0)
    compare("templates, contours that cross, touch or leave no material", bad, 0, 0)


def hopper(folder, compare, length, width, chute, funnel_deg, wall, chute_length, piece, rail_gap=0.0, side_deg=0.0):
    """Floor, walls and rails from the numbers of the file alone, by areas and sizes of plane shapes."""
    shapes = sorted((Polygon(line) for line in cuts(folder, "hopper-floor")[1]), key=lambda s: -s.area)
    narrows = (width - chute) / 2 / math.tan(math.radians(funnel_deg))
    room = (length - narrows) * width + narrows * (width + chute) / 2
    end = chute * (chute_length + piece / 2)
    if side_deg:
        # Two halves that slope: each plane area grows by 1/cos.
        compare("templates, area of the sloping floor, mm2", shapes[0].area, room / math.cos(math.radians(side_deg)), 1)
        compare("templates, area of the chute's floor, mm2", shapes[1].area, end, 1)
    else:
        compare("templates, area of the floor, mm2", shapes[0].area, room + end, 1)
    box = shapes[0].bounds
    across = width / math.cos(math.radians(side_deg))
    compare("templates, width of the floor, mm", box[3] - box[1], across, 0.01)
    panels = [Polygon(line) for line in cuts(folder, "hopper-walls")[1]]
    heights = sorted((p.bounds[3] - p.bounds[1] for p in panels), reverse=True)[:4]
    for h in heights:
        compare("templates, height of a wall above the floor, mm", h - 4, wall, 0.01)
    if rail_gap:
        (jig,) = [Polygon(line) for line in cuts(folder, "chute-rails")[1]]
        # A rod of 8 mm in each arch touches it all around, and the floor below.
        for side in (-1, 1):
            rod = Point(side * (rail_gap / 2 + 4), 4).buffer(4 - 0.01, 256)
            compare("templates, rail and jig overlap, mm2", jig.intersection(rod).area, 0, 1e-6)
            compare("templates, room between rail and jig, mm", jig.distance(rod), 0.01, 2e-3)


def variant(program, text, work, name):
    """The parts of a changed Lantern Night."""
    place = Path(work) / name
    place.mkdir()
    (place / "arcwright.toml").write_text(text)
    subprocess.run([program, "draw"], cwd=place, check=True, capture_output=True)
    return place / "out" / "draw"


def ruler(folder, paper, size_mm, compare):
    """The 100 mm ruler of every page, in pixels, and the paper."""
    for pdf in sorted(folder.glob("*.pdf")):
        reader = PdfReader(pdf)
        for page in reader.pages:
            box = sorted([float(page.mediabox.width), float(page.mediabox.height)])
            for found, wanted in zip(box, sorted(size_mm)):
                if abs(found - wanted * 72 / 25.4) > 0.01:
                    compare(f"prints, {paper}, size of a page of {pdf.name}", found, wanted * 72 / 25.4, 0.01)
        scaling = reader.trailer["/Root"]["/ViewerPreferences"]["/PrintScaling"]
        compare(f"prints, {paper}, {pdf.name} asks for no scaling", float(scaling == "/None"), 1, 0)
    if not shutil.which("pdftoppm"):
        if os.environ.get("CI"):
            raise SystemExit("pdftoppm is needed (poppler-utils)")
        print("SKIPPED: the ruler in pixels, pdftoppm is not here")
        return
    dpi = 254  # ten pixels for a millimetre
    with tempfile.TemporaryDirectory() as out:
        subprocess.run(["pdftoppm", "-r", str(dpi), "-gray", folder / "side-plate.pdf", Path(out) / "p"], check=True)
        for i, file in enumerate(sorted(Path(out).glob("*.pgm"))):
            with open(file, "rb") as f:
                assert f.readline().strip() == b"P5"
                w, h = map(int, f.readline().split())
                f.readline()
                page = np.frombuffer(f.read(), np.uint8).reshape(h, w)
            # The ruler's base line, 15 mm above the lower edge of the paper: the longest dark run near there.
            best = 0
            for row in page[h - 155 : h - 145]:
                dark = np.flatnonzero(np.diff(np.concatenate([[0], row < 160, [0]]).astype(int)))
                best = max([best, *(dark[1::2] - dark[::2])]) if len(dark) else best
            compare(f"prints, {paper}, ruler on page {i + 1} of the side plate, pixels of 0.1 mm", float(best), 1000, 4)


def check(program, compare):
    with tempfile.TemporaryDirectory() as work:
        for paper, size in (("a4", (210, 297)), ("letter", (215.9, 279.4))):
            subprocess.run([program, "draw", "--demo", "lantern", "--paper", paper], cwd=work, check=True, capture_output=True)
            folder = Path(work) / "out" / "lantern" / "draw"
            ruler(folder, paper, size, compare)
        gap(folder, compare, gap_mm=100, wheel_mm=96, wrap_deg=110, end_deg=84)
        sound(folder, compare)
        plan = dict(length=340, width=300, chute=120, funnel_deg=45, wall=168, chute_length=168, piece=112)
        hopper(folder, compare, **plan)
        lantern = Path(__file__).resolve().parents[2].joinpath("examples", "lantern", "arcwright.toml").read_text()
        changed = lantern.replace('wrap = "110 deg"', 'wrap = "110 deg"\nentry_relief = "4 mm"')
        changed = changed.replace('slope = "12 deg"\n', 'slope = "12 deg"\nside_slope = "9 deg"\nrail_gap = "28 mm"\n')
        assert changed.count("entry_relief") == changed.count("rail_gap") == 1
        folder = variant(program, changed, work, "relieved")
        gap(folder, compare, gap_mm=100, wheel_mm=96, wrap_deg=110, end_deg=84, relief_mm=4)
        sound(folder, compare)
        hopper(folder, compare, **plan, rail_gap=28, side_deg=9)
