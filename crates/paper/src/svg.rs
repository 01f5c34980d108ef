//! A small SVG writer: escaping, numbers, shapes, title and description.

use std::fmt::Write;

use crate::geometry::{Point, Rect};
use crate::style;

/// Where a text hangs from its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// The point is at its left.
    Start,
    /// The point is in its middle.
    Middle,
    /// The point is at its right.
    End,
}

/// Direction of a hatch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hatch {
    /// Rising to the right.
    Up,
    /// Falling to the right.
    Down,
}

/// Stands for the picture's own identifier until [`Svg::finish`] knows it. A control character:
/// [`escape`] lets none through, so no text can contain it.
const OWN_ID: char = '\u{1}';

/// A picture being drawn.
#[derive(Clone, Debug)]
pub struct Svg {
    name: &'static str,
    width_px: f64,
    height_px: f64,
    body: String,
    open_count: usize,
    clip_count: usize,
    hatches: [bool; 2],
    rules: &'static str,
}

impl Svg {
    /// An empty picture. `name` is short, lower case, and starts its identifiers.
    pub fn new(name: &'static str, width_px: f64, height_px: f64) -> Svg {
        Svg {
            name,
            width_px,
            height_px,
            body: String::with_capacity(8192),
            open_count: 0,
            clip_count: 0,
            hatches: [false; 2],
            rules: "",
        }
    }

    /// Adds rules to the style sheet that only some pictures need.
    pub fn with_rules(mut self, rules: &'static str) -> Svg {
        self.rules = rules;
        self
    }

    /// The whole picture as a rectangle.
    pub fn area(&self) -> Rect {
        Rect {
            x_px: 0.0,
            y_px: 0.0,
            width_px: self.width_px,
            height_px: self.height_px,
        }
    }

    /// Opens a group; `class` may be empty.
    pub fn open(&mut self, class: &str) {
        self.body.push_str("<g");
        self.class(class);
        self.body.push_str(">\n");
        self.open_count += 1;
    }

    /// Opens a group of which only the part inside `window` shows.
    pub fn open_clipped(&mut self, window: Rect) {
        self.clip_count += 1;
        let id = format!("{OWN_ID}-clip{}", self.clip_count);
        let _ = write!(self.body, "<clipPath id=\"{id}\"><rect");
        self.rect_attributes(window);
        let _ = writeln!(self.body, "/></clipPath>\n<g clip-path=\"url(#{id})\">");
        self.open_count += 1;
    }

    /// Closes the last group.
    pub fn close(&mut self) {
        if self.open_count > 0 {
            self.body.push_str("</g>\n");
            self.open_count -= 1;
        }
    }

    /// A straight line.
    pub fn line(&mut self, class: &str, a: Point, b: Point) {
        let _ = write!(
            self.body,
            "<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\"",
            num(a[0]),
            num(a[1]),
            num(b[0]),
            num(b[1])
        );
        self.class(class);
        self.body.push_str("/>\n");
    }

    /// A line through points.
    pub fn polyline(&mut self, class: &str, points: &[Point]) {
        if points.len() > 1 {
            self.path(class, &Path::through(points));
        }
    }

    /// A closed line through points.
    pub fn polygon(&mut self, class: &str, points: &[Point]) {
        if points.len() > 2 {
            let mut path = Path::through(points);
            path.close();
            self.path(class, &path);
        }
    }

    /// A path.
    pub fn path(&mut self, class: &str, path: &Path) {
        let _ = write!(self.body, "<path d=\"{}\"", path.text);
        self.class(class);
        self.body.push_str("/>\n");
    }

    /// A closed region filled with thin parallel lines.
    pub fn hatched(&mut self, hatch: Hatch, points: &[Point]) {
        if points.len() < 3 {
            return;
        }
        let (index, name) = hatch_name(hatch);
        if let Some(used) = self.hatches.get_mut(index) {
            *used = true;
        }
        let mut path = Path::through(points);
        path.close();
        let _ = writeln!(
            self.body,
            "<path d=\"{}\" fill=\"url(#{OWN_ID}-{name})\"/>",
            path.text
        );
    }

    /// A circle.
    pub fn circle(&mut self, class: &str, centre: Point, radius_px: f64) {
        let _ = write!(
            self.body,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\"",
            num(centre[0]),
            num(centre[1]),
            num(radius_px.max(0.0))
        );
        self.class(class);
        self.body.push_str("/>\n");
    }

    /// A rectangle.
    pub fn rect(&mut self, class: &str, rect: Rect) {
        self.body.push_str("<rect");
        self.rect_attributes(rect);
        self.class(class);
        self.body.push_str("/>\n");
    }

    /// A line of text; the point is on its base line.
    pub fn text(&mut self, class: &str, at: Point, anchor: Anchor, text: &str) {
        let _ = write!(self.body, "<text x=\"{}\" y=\"{}\"", num(at[0]), num(at[1]));
        match anchor {
            Anchor::Start => {}
            Anchor::Middle => self.body.push_str(" text-anchor=\"middle\""),
            Anchor::End => self.body.push_str(" text-anchor=\"end\""),
        }
        self.class(class);
        let _ = writeln!(self.body, ">{}</text>", escape(text));
    }

    /// A line of text turned a quarter to the left about its point.
    pub fn text_upward(&mut self, class: &str, at: Point, text: &str) {
        let (x, y) = (num(at[0]), num(at[1]));
        let _ = write!(
            self.body,
            "<text x=\"{x}\" y=\"{y}\" transform=\"rotate(-90 {x} {y})\""
        );
        self.body.push_str(" text-anchor=\"middle\"");
        self.class(class);
        let _ = writeln!(self.body, ">{}</text>", escape(text));
    }

    /// The finished picture. `words` says what it shows.
    ///
    /// Its identifiers start with its name and a number made from its content, so two different
    /// pictures in one page do not meet.
    pub fn finish(mut self, title: &str, words: &str) -> String {
        while self.open_count > 0 {
            self.close();
        }
        let mut content = format!("<title id=\"{OWN_ID}-title\">{}</title>\n", escape(title));
        let _ = writeln!(content, "<desc id=\"{OWN_ID}-desc\">{}</desc>", escape(words));
        let _ = writeln!(content, "<style>{}{}</style>", style::sheet(), self.rules);
        content.push_str(&self.hatch_patterns());
        let _ = write!(content, "<rect");
        let (w, h) = (num(self.width_px), num(self.height_px));
        let _ = writeln!(
            content,
            " x=\"0\" y=\"0\" width=\"{w}\" height=\"{h}\" class=\"paper\"/>"
        );
        content.push_str(&self.body);
        let id = format!("{}-{:08x}", self.name, fnv1a(content.as_bytes()));
        let text = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"arcw\" width=\"{w}\" height=\"{h}\" \
             viewBox=\"0 0 {w} {h}\" role=\"img\" aria-labelledby=\"{OWN_ID}-title {OWN_ID}-desc\">\n\
             {content}</svg>\n"
        );
        text.replace(OWN_ID, &id)
    }

    fn hatch_patterns(&self) -> String {
        let mut text = String::new();
        for hatch in [Hatch::Up, Hatch::Down] {
            let (index, name) = hatch_name(hatch);
            if self.hatches.get(index) == Some(&true) {
                let line = if hatch == Hatch::Up {
                    "M-2 2L2 -2M0 8L8 0M6 10L10 6"
                } else {
                    "M-2 6L2 10M0 0L8 8M6 -2L10 2"
                };
                let _ = writeln!(
                    text,
                    "<pattern id=\"{OWN_ID}-{name}\" width=\"8\" height=\"8\" \
                     patternUnits=\"userSpaceOnUse\"><path d=\"{line}\" class=\"q\" \
                     stroke-opacity=\".55\"/></pattern>"
                );
            }
        }
        text
    }

    fn class(&mut self, class: &str) {
        if !class.is_empty() {
            let _ = write!(self.body, " class=\"{class}\"");
        }
    }

    fn rect_attributes(&mut self, r: Rect) {
        let _ = write!(
            self.body,
            " x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"",
            num(r.x_px),
            num(r.y_px),
            num(r.width_px.max(0.0)),
            num(r.height_px.max(0.0))
        );
    }
}

fn hatch_name(hatch: Hatch) -> (usize, &'static str) {
    match hatch {
        Hatch::Up => (0, "hatch-up"),
        Hatch::Down => (1, "hatch-down"),
    }
}

/// The data of a path element.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Path {
    text: String,
}

impl Path {
    /// A path through points.
    pub fn through(points: &[Point]) -> Path {
        let mut path = Path::default();
        for (i, p) in points.iter().enumerate() {
            if i == 0 {
                path.move_to(*p)
            } else {
                path.line_to(*p)
            }
        }
        path
    }

    /// Starts at a point.
    pub fn move_to(&mut self, p: Point) {
        let _ = write!(self.text, "M{} {}", num(p[0]), num(p[1]));
    }

    /// A straight line.
    pub fn line_to(&mut self, p: Point) {
        let _ = write!(self.text, "L{} {}", num(p[0]), num(p[1]));
    }

    /// The shorter arc of an ellipse whose first axis points `turn_rad` below the horizontal of
    /// the screen. `clockwise` picks the arc that turns so as seen.
    pub fn arc_to(&mut self, radii_px: [f64; 2], turn_rad: f64, clockwise: bool, p: Point) {
        let _ = write!(
            self.text,
            "A{} {} {} 0 {} {} {}",
            num(radii_px[0]),
            num(radii_px[1]),
            num(turn_rad.to_degrees()),
            u8::from(clockwise),
            num(p[0]),
            num(p[1])
        );
    }

    /// Back to the start.
    pub fn close(&mut self) {
        self.text.push('Z');
    }
}

/// No coordinate is written beyond this; renderers hold coordinates as 32-bit floats.
const FARTHEST_PX: f64 = 1e5;

/// A number with at most three decimals, no trailing zeros, no minus before zero. What is not a
/// number is written as 0; callers leave such points out before it comes to that.
pub fn num(v: f64) -> String {
    let v = if v.is_nan() {
        0.0
    } else {
        v.clamp(-FARTHEST_PX, FARTHEST_PX)
    };
    let text = format!("{v:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_string()
    } else {
        text.to_string()
    }
}

/// Text made safe for XML: markup characters escaped, characters that XML 1.0 forbids left out.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\t' | '\n' | '\r' => out.push(' '),
            c if c.is_control() || c == '\u{fffe}' || c == '\u{ffff}' => {}
            c => out.push(c),
        }
    }
    out
}

/// 32-bit FNV-1a [fnv]: short, stable, and the picture's identity needs no more.
fn fnv1a(bytes: &[u8]) -> u32 {
    bytes.iter().fold(0x811c_9dc5, |hash, b| {
        (hash ^ u32::from(*b)).wrapping_mul(0x0100_0193)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_three_decimals_at_most_and_no_minus_zero() {
        assert_eq!(num(1.0), "1");
        assert_eq!(num(-0.0), "0");
        assert_eq!(num(-0.0004), "0");
        assert_eq!(num(12.345_67), "12.346");
        assert_eq!(num(-7.5), "-7.5");
        assert_eq!(num(100.0), "100");
        assert_eq!(num(f64::NAN), "0");
        assert_eq!(num(f64::INFINITY), "100000");
    }

    #[test]
    fn markup_in_a_name_is_escaped_and_control_characters_vanish() {
        assert_eq!(
            escape("<b> & \"it's\"\u{1}\u{0}\n"),
            "&lt;b&gt; &amp; &quot;it&#39;s&quot; "
        );
    }

    #[test]
    fn fnv1a_matches_the_published_test_vectors() {
        // Test vectors of the FNV reference code [fnv]; from memory.
        assert_eq!(fnv1a(b""), 0x811c_9dc5);
        assert_eq!(fnv1a(b"a"), 0xe40c_292c);
        assert_eq!(fnv1a(b"foobar"), 0xbf9c_f968);
    }

    #[test]
    fn a_group_left_open_is_closed_and_one_closed_twice_is_not() {
        let mut svg = Svg::new("x", 10.0, 10.0);
        svg.close();
        svg.open("k");
        svg.open_clipped(Rect {
            x_px: 0.0,
            y_px: 0.0,
            width_px: 5.0,
            height_px: 5.0,
        });
        let text = svg.finish("t", "w");
        assert_eq!(text.matches("<g").count(), text.matches("</g>").count());
        assert!(roxmltree::Document::parse(&text).is_ok());
    }

    #[test]
    fn two_different_pictures_share_no_identifier() {
        let draw = |y: f64| {
            let mut svg = Svg::new("x", 10.0, 10.0);
            svg.hatched(Hatch::Up, &[[0.0, y], [1.0, 0.0], [2.0, 3.0]]);
            svg.finish("t", "w")
        };
        let ids = |text: &str| -> Vec<String> {
            let doc = roxmltree::Document::parse(text).unwrap();
            doc.descendants()
                .filter_map(|n| n.attribute("id").map(str::to_string))
                .collect()
        };
        let (a, b) = (draw(1.0), draw(2.0));
        assert_eq!(a, draw(1.0));
        assert_eq!(ids(&a).len(), 3);
        assert!(ids(&a).iter().all(|id| !ids(&b).contains(id)));
        let pattern = ids(&a).into_iter().find(|id| id.ends_with("hatch-up")).unwrap();
        assert!(a.contains(&format!("fill=\"url(#{pattern})\"")));
    }
}
