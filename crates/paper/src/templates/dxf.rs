//! A sheet as DXF of release 12, ASCII: millimetres, layers CUT, BEND and MARK, closed lines as POLYLINE with bulges.

use std::fmt::Write;

use super::{Edge, Layer, Point, Sheet};

/// Group code and value, each on a line of its own, as the format asks.
struct Groups(String);

impl Groups {
    fn put(&mut self, code: u32, value: &str) {
        let _ = writeln!(self.0, "{code:>3}\n{value}");
    }

    fn number(&mut self, code: u32, x: f64) {
        /// Rounding: a ten-thousandth of a millimetre.
        const DIGITS: usize = 4;
        let text = format!("{x:.DIGITS$}");
        self.put(code, if text == "-0.0000" { "0.0000" } else { &text });
    }

    fn point(&mut self, code: u32, p: Point) {
        self.number(code, p[0]);
        self.number(code + 10, p[1]);
        self.number(code + 20, 0.0);
    }

    fn begin(&mut self, entity: &str, layer: Layer) {
        self.put(0, entity);
        self.put(8, layer.name());
    }
}

/// Text that the format takes: ASCII, the degree sign by its own code.
fn plain(text: &str) -> String {
    let each = text.chars().map(|c| match c {
        '°' => "%%d".to_string(),
        c if c.is_ascii() && !c.is_control() => c.to_string(),
        _ => "?".to_string(),
    });
    each.collect()
}

/// The file's text.
pub fn text(sheet: &Sheet) -> String {
    let mut g = Groups(String::new());
    g.put(999, &plain(&format!("{}, millimetres, full size", sheet.title)));
    let [low, high] = sheet.extent();
    g.put(0, "SECTION");
    g.put(2, "HEADER");
    g.put(9, "$ACADVER");
    g.put(1, "AC1009");
    // Millimetres. Release 12 knows no unit; later readers take this from the head.
    g.put(9, "$INSUNITS");
    g.put(70, "4");
    g.put(9, "$EXTMIN");
    g.point(10, low);
    g.put(9, "$EXTMAX");
    g.point(10, high);
    g.put(0, "ENDSEC");
    tables(&mut g);
    g.put(0, "SECTION");
    g.put(2, "ENTITIES");
    for contour in &sheet.contours {
        match contour.edges[..] {
            [Edge::Line { to_mm }] if !contour.closed => {
                g.begin("LINE", contour.layer);
                g.point(10, contour.start_mm);
                g.point(11, to_mm);
            }
            _ => polyline(&mut g, contour),
        }
    }
    for circle in &sheet.circles {
        g.begin("CIRCLE", circle.layer);
        g.point(10, circle.centre_mm);
        g.number(40, circle.radius_mm);
    }
    for label in sheet.labels.iter().filter(|l| !l.text.is_empty()) {
        g.begin("TEXT", Layer::Mark);
        g.point(10, label.at_mm);
        g.number(40, label.height_mm);
        g.put(1, &plain(&label.text));
        // Centred on its place.
        g.put(72, "1");
        g.point(11, label.at_mm);
    }
    g.put(0, "ENDSEC");
    g.put(0, "EOF");
    g.0
}

fn tables(g: &mut Groups) {
    g.put(0, "SECTION");
    g.put(2, "TABLES");
    g.put(0, "TABLE");
    g.put(2, "LTYPE");
    g.put(70, "2");
    for (name, words, dashes) in [
        ("CONTINUOUS", "Solid line", &[][..]),
        ("DASHED", "__ __ __", &[4.0, -2.0]),
    ] {
        g.put(0, "LTYPE");
        g.put(2, name);
        g.put(70, "0");
        g.put(3, words);
        g.put(72, "65");
        g.put(73, &dashes.len().to_string());
        g.number(40, dashes.iter().map(|d: &f64| d.abs()).sum());
        for dash in dashes {
            g.number(49, *dash);
        }
    }
    g.put(0, "ENDTAB");
    g.put(0, "TABLE");
    g.put(2, "LAYER");
    g.put(70, "3");
    for layer in Layer::ALL {
        g.put(0, "LAYER");
        g.put(2, layer.name());
        g.put(70, "0");
        g.put(62, "7");
        g.put(
            6,
            if layer == Layer::Bend {
                "DASHED"
            } else {
                "CONTINUOUS"
            },
        );
    }
    g.put(0, "ENDTAB");
    g.put(0, "ENDSEC");
}

/// Corners with the bulge of the piece that follows each.
///
/// ```text
/// bulge = tan(sweep / 4)
/// ```
fn polyline(g: &mut Groups, contour: &super::Contour) {
    g.begin("POLYLINE", contour.layer);
    g.put(66, "1");
    g.point(10, [0.0; 2]);
    g.put(70, if contour.closed { "1" } else { "0" });
    let mut at = contour.start_mm;
    for edge in &contour.edges {
        g.begin("VERTEX", contour.layer);
        g.point(10, at);
        if let Edge::Arc { sweep_rad, .. } = edge {
            let _ = writeln!(g.0, " 42\n{:.10}", (sweep_rad / 4.0).tan());
        }
        at = edge.end(at);
    }
    if !contour.closed {
        g.begin("VERTEX", contour.layer);
        g.point(10, at);
    }
    g.begin("SEQEND", contour.layer);
}
