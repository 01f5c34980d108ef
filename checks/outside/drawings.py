"""Templates and prints, read by general-purpose libraries and tools.

- DXF: ezdxf (release, unit, layers, closed lines, the gap along the arc)
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


def gap(folder, compare, gap_mm, wheel_mm, wrap_deg, end_deg):
    """Lantern Night as its file says: wheel, gap, wrap and end angle."""
    doc = ezdxf.readfile(folder / "side-plate.dxf")
    compare("templates, release of the file", float(doc.dxfversion[2:]), 1009, 0)
    compare("templates, unit of the file (4 is millimetres)", doc.header.get("$INSUNITS", 0), 4, 0)
    lines = []
    for e in doc.modelspace().query('*[layer=="CUT"]'):
        path = ezdxf.path.make_path(e)
        assert path.is_closed, e
        lines.append([(p.x, p.y) for p in path.flattening(0.002)])
    compare("templates, closed lines to cut on the side plate, at least", min(len(lines), 5), 5, 0)
    end = math.radians(90 + end_deg)
    angles = end + np.radians(np.arange(1, wrap_deg))
    middle = end + math.radians(wrap_deg / 2)
    guide = wheel_mm / 2 + gap_mm
    slot = min((l for l in lines if not math.isnan(meets(l, middle, 0.9 * guide))), key=lambda l: meets(l, middle, 0.9 * guide))
    off = max(abs(meets(slot, a, 10) - wheel_mm / 2 - gap_mm) for a in angles)
    compare("templates, gap along the arc, most off, mm", off, 0, 0.05)


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
