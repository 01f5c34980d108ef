//! A sheet as SVG in millimetres, for a cutter's program or a printer.

use std::fmt::Write;

use super::pdf::{RULER_MM, RULER_WORDS, ruler};
use super::{CAUTIONS, Edge, Layer, Point, Sheet};
use crate::svg::escape;

/// White around the part.
pub(super) const PAD_MM: f64 = 6.0;
/// Size of the notes' letters, from line to line.
pub(super) const NOTE_MM: f64 = 3.2;
pub(super) const NOTE_STEP_MM: f64 = 4.6;
/// Room for the ruler below the notes.
const RULER_ROOM_MM: f64 = 10.0;
/// Size of the title's letters.
pub(super) const TITLE_MM: f64 = 5.0;
/// Width of the text below a part.
const TEXT_WIDTH_MM: f64 = 165.0;
/// Height of a capital over the size of a letter.
pub(super) const CAPITAL_RATIO: f64 = 0.72;

/// Where things lie on the drawing: the part at the top, title and notes below it.
pub(super) struct Place {
    /// Whole size.
    pub size_mm: [f64; 2],
    /// Left and upper corner of the part in the sheet's own terms.
    pub origin_mm: Point,
    /// Title and notes with their size and base line, from the top.
    pub lines: Vec<(f64, f64, String)>,
}

/// Lays a sheet out.
pub(super) fn place(sheet: &Sheet) -> Place {
    let [low, high] = sheet.extent();
    let width = (high[0] - low[0]).max(TEXT_WIDTH_MM) + 2.0 * PAD_MM;
    /// Physical: width of a usual letter over its size.
    const LETTER_RATIO: f64 = 0.52;
    // No wider than a page, so that a printed note stays whole.
    let columns = (TEXT_WIDTH_MM / (LETTER_RATIO * NOTE_MM)) as usize;
    let mut y = high[1] - low[1] + 2.0 * PAD_MM + TITLE_MM;
    let mut lines = vec![(TITLE_MM, y, sheet.title.clone())];
    y += 2.0;
    for note in sheet.notes.iter().map(String::as_str).chain(CAUTIONS) {
        for (i, line) in wrapped(note, columns).into_iter().enumerate() {
            y += NOTE_STEP_MM;
            let lead = if i == 0 { "- " } else { "  " };
            lines.push((NOTE_MM, y, format!("{lead}{line}")));
        }
    }
    Place {
        size_mm: [width, y + PAD_MM],
        origin_mm: [low[0] - PAD_MM, high[1] + PAD_MM],
        lines,
    }
}

fn wrapped(text: &str, columns: usize) -> Vec<String> {
    let mut out = vec![String::new()];
    for word in text.split_whitespace() {
        let fits = out
            .last()
            .is_none_or(|l| l.is_empty() || l.chars().count() + 1 + word.chars().count() <= columns);
        if !fits {
            out.push(String::new());
        }
        if let Some(line) = out.last_mut() {
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
    }
    out
}

/// How a layer is drawn: width and dashes, never by colour.
pub(super) fn stroke(layer: Layer) -> (f64, &'static [f64]) {
    match layer {
        Layer::Cut => (0.3, &[]),
        Layer::Bend => (0.2, &[4.0, 2.0]),
        Layer::Mark => (0.12, &[]),
    }
}

fn num(x: f64) -> String {
    let text = format!("{x:.4}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".into() } else { text.into() }
}

/// The file's text.
pub fn text(sheet: &Sheet) -> String {
    let place = place(sheet);
    let [width, above] = place.size_mm;
    let height = above + RULER_ROOM_MM;
    let at = |p: Point| [p[0] - place.origin_mm[0], place.origin_mm[1] - p[1]];
    let pair = |p: Point| format!("{} {}", num(at(p)[0]), num(at(p)[1]));
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\" role=\"img\">\n\
<title>{}</title>\n<desc>{}</desc>\n",
        escape(&sheet.title),
        escape(&sheet.notes.join(" ")),
        w = num(width),
        h = num(height)
    );
    for layer in Layer::ALL {
        let (line, dashes) = stroke(layer);
        let dashes: Vec<String> = dashes.iter().map(|d| num(*d)).collect();
        let dash = if dashes.is_empty() {
            String::new()
        } else {
            format!(" stroke-dasharray=\"{}\"", dashes.join(" "))
        };
        let _ = writeln!(
            out,
            "<g id=\"{}\" fill=\"none\" stroke=\"#000\" stroke-width=\"{line}\"{dash}>",
            layer.name()
        );
        for contour in sheet.contours.iter().filter(|c| c.layer == layer) {
            let mut d = format!("M{}", pair(contour.start_mm));
            let mut from = contour.start_mm;
            for edge in &contour.edges {
                let end = edge.end(from);
                match *edge {
                    Edge::Line { to_mm } => {
                        let _ = write!(d, "L{}", pair(to_mm));
                    }
                    Edge::Arc { centre_mm, sweep_rad } => {
                        let radius = (from[0] - centre_mm[0]).hypot(from[1] - centre_mm[1]);
                        // The other way round: y grows downward here.
                        let _ = write!(
                            d,
                            "A{r} {r} 0 {} {} {}",
                            u8::from(sweep_rad.abs() > std::f64::consts::PI),
                            u8::from(sweep_rad < 0.0),
                            pair(end),
                            r = num(radius)
                        );
                    }
                }
                from = end;
            }
            let _ = writeln!(out, "<path d=\"{d}{}\"/>", if contour.closed { "Z" } else { "" });
        }
        for circle in sheet.circles.iter().filter(|c| c.layer == layer) {
            let p = at(circle.centre_mm);
            let dash = if layer == Layer::Mark {
                " stroke-dasharray=\"3 2\""
            } else {
                ""
            };
            let _ = writeln!(
                out,
                "<circle cx=\"{}\" cy=\"{}\" r=\"{}\"{dash}/>",
                num(p[0]),
                num(p[1]),
                num(circle.radius_mm)
            );
        }
        out.push_str("</g>\n");
    }
    out.push_str("<g font-family=\"Helvetica, Arial, sans-serif\" fill=\"#000\">\n");
    for label in sheet.labels.iter().filter(|l| !l.text.is_empty()) {
        let p = at(label.at_mm);
        let _ = writeln!(
            out,
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\" text-anchor=\"middle\">{}</text>",
            num(p[0]),
            num(p[1]),
            num(label.height_mm / CAPITAL_RATIO),
            escape(&label.text)
        );
    }
    for (size, y, line) in &place.lines {
        let _ = writeln!(
            out,
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\" xml:space=\"preserve\">{}</text>",
            num(PAD_MM),
            num(*y),
            num(*size),
            escape(line)
        );
    }
    let foot = above + 4.0;
    let (x, y) = (num(PAD_MM + RULER_MM + 3.0), num(foot));
    let _ = writeln!(
        out,
        "<text x=\"{x}\" y=\"{y}\" font-size=\"{NOTE_MM}\">{RULER_WORDS}</text>\n</g>"
    );
    let mut d = format!("M{} {y}h{RULER_MM}", num(PAD_MM));
    for [along, high] in ruler() {
        let _ = write!(d, "M{} {y}v{}", num(PAD_MM + along), num(-high));
    }
    let _ = writeln!(
        out,
        "<path id=\"RULER\" fill=\"none\" stroke=\"#000\" stroke-width=\"0.25\" d=\"{d}\"/>\n</svg>"
    );
    out
}
