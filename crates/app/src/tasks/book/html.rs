//! Blocks of the notebook as HTML: semantic elements, everything of the user's escaped, nothing from outside.

use arcwright_paper::svg::escape;

use super::{Block, Book, Section};
use crate::tasks::card::{self, Card};
use crate::tasks::tables::Table;

const STYLE: &str = include_str!("book.css");
const CARD_STYLE: &str = include_str!("card.css");

/// Paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    /// 210 mm by 297 mm (ISO 216).
    A4,
    /// 8.5 in by 11 in.
    Letter,
}

impl Paper {
    /// By its name.
    pub fn named(word: &str) -> Option<Paper> {
        match word {
            "a4" => Some(Paper::A4),
            "letter" => Some(Paper::Letter),
            _ => None,
        }
    }

    fn size(self) -> &'static str {
        match self {
            Paper::A4 => "210mm 297mm",
            Paper::Letter => "8.5in 11in",
        }
    }
}

/// A text for the `content` of a style rule.
fn css_text(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            // Inside the element `style` no end of it may stand, nor a line end or quote inside a string.
            '"' | '\\' | '<' | '>' | '&' => out.push_str(&format!("\\{:x} ", u32::from(c))),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// A text with what stands between two backticks as code.
fn rich(text: &str) -> String {
    let mut out = String::new();
    let parts: Vec<&str> = text.split('`').collect();
    for (i, part) in parts.iter().enumerate() {
        // A last backtick without another is shown as it is.
        let alone = i + 1 == parts.len() && i % 2 == 1;
        if alone {
            out.push('`');
        }
        if i % 2 == 1 && !alone {
            out.push_str(&format!("<code>{}</code>", escape(part)));
        } else {
            out.push_str(&escape(part));
        }
    }
    out
}

fn document(title: &str, style: &str, body: &str) -> String {
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\" data-scheme=\"light\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; style-src 'unsafe-inline'\">\n\
         <meta name=\"generator\" content=\"arcwright {}\">\n<title>{}</title>\n<style>\n{style}</style>\n</head>\n{body}</html>\n",
        env!("CARGO_PKG_VERSION"),
        escape(title)
    )
}

/// The whole notebook as one file.
pub fn book(book: &Book, paper: Paper) -> String {
    let style = format!(
        "{STYLE}@page {{ size: {}; @top-left {{ content: {} }} @top-right {{ content: \"Engineering notebook\" }} @bottom-left {{ content: {} }} @bottom-right {{ content: \"page \" counter(page) \" of \" counter(pages) }} }}\n@page :first {{ @top-left {{ content: none }} @top-right {{ content: none }} }}\n",
        paper.size(),
        css_text(&book.title),
        css_text(&book.foot)
    );
    let mut body = String::from("<body>\n<header>\n");
    body.push_str(&format!(
        "<p class=\"kind\">Engineering notebook</p>\n<h1>{}</h1>\n<p class=\"about\">{}</p>\n",
        escape(&book.title),
        escape(&book.about)
    ));
    body.push_str(&pairs(&book.head));
    body.push_str("</header>\n<nav aria-label=\"Contents\"><h2>Contents</h2><ol>\n");
    for s in &book.sections {
        body.push_str(&format!(
            "<li><a href=\"#{}\">{}</a></li>\n",
            s.id,
            escape(s.title)
        ));
    }
    body.push_str("</ol></nav>\n<main>\n");
    let mut figures = 0;
    for (i, s) in book.sections.iter().enumerate() {
        body.push_str(&section(s, i + 1, &mut figures));
    }
    body.push_str("</main>\n</body>\n");
    document(&format!("{}: engineering notebook", book.title), &style, &body)
}

fn section(s: &Section, number: usize, figures: &mut usize) -> String {
    let mut text = format!(
        "<section id=\"{0}\" aria-labelledby=\"{0}-title\">\n<h2 id=\"{0}-title\">{number} {1}</h2>\n",
        s.id,
        escape(s.title)
    );
    for b in &s.blocks {
        text.push_str(&block(b, figures));
    }
    text.push_str("</section>\n");
    text
}

fn block(b: &Block, figures: &mut usize) -> String {
    match b {
        Block::Heading(t) => format!("<h3>{}</h3>\n", escape(t)),
        Block::Text(t) => format!("<p>{}</p>\n", rich(t)),
        Block::Quiet(t) => format!("<p class=\"quiet\">{}</p>\n", rich(t)),
        Block::List(items) => {
            let items: Vec<String> = items
                .iter()
                .map(|t| format!("<li>{}</li>\n", escape(t)))
                .collect();
            format!("<ul>\n{}</ul>\n", items.concat())
        }
        Block::Pairs(rows) => pairs(rows),
        Block::Table(caption, t) => table(caption, &without_empty(t)),
        Block::Figure(svg, caption) => {
            *figures += 1;
            figure(svg, caption, *figures)
        }
        Block::Photo(p) => {
            *figures += 1;
            format!(
                "<figure class=\"photo\"><img src=\"data:{};base64,{}\" alt=\"{}\"><figcaption>Figure {}. {}</figcaption></figure>\n",
                p.kind,
                base64(&p.bytes),
                escape(&p.caption),
                *figures,
                escape(&p.caption)
            )
        }
        Block::Together(blocks) => {
            let inner: Vec<String> = blocks.iter().map(|b| block(b, figures)).collect();
            format!("<div class=\"together\">\n{}</div>\n", inner.concat())
        }
        Block::Equation(e) => {
            let mut text = String::from("<div class=\"equation\">\n");
            for one in &e.markup {
                text.push_str(one);
                text.push('\n');
            }
            if !e.legend.is_empty() {
                text.push_str(&format!("<p class=\"quiet\">where {}</p>\n", escape(&e.legend)));
            }
            for source in &e.sources {
                text.push_str(&format!("<p class=\"source\">Source: {}</p>\n", escape(source)));
            }
            text.push_str("</div>\n");
            text
        }
    }
}

fn pairs(rows: &[[String; 2]]) -> String {
    let rows: Vec<String> = rows
        .iter()
        .map(|[a, b]| format!("<div><dt>{}</dt><dd>{}</dd></div>\n", escape(a), escape(b)))
        .collect();
    format!("<dl>\n{}</dl>\n", rows.concat())
}

fn table(caption: &str, t: &Table) -> String {
    let mut text = format!("<table><caption>{}</caption>\n<thead><tr>", rich(caption));
    for h in &t.head {
        text.push_str(&if h.is_empty() {
            "<td></td>".to_string()
        } else {
            format!("<th scope=\"col\">{}</th>", escape(h))
        });
    }
    text.push_str("</tr></thead>\n<tbody>\n");
    for row in &t.rows {
        text.push_str("<tr>");
        for (i, cell) in row.iter().enumerate() {
            let words = rich(&unbroken(cell));
            let class = cell_class(cell);
            text.push_str(&if i == 0 {
                format!("<th scope=\"row\"{class}>{words}</th>")
            } else {
                format!("<td{class}>{words}</td>")
            });
        }
        text.push_str("</tr>\n");
    }
    text.push_str("</tbody></table>\n");
    text
}

/// A text whose numbers stay on one line with their units: the space between them does not break (U+00A0).
fn unbroken(text: &str) -> String {
    let letters: Vec<char> = text.chars().collect();
    let each = letters.iter().enumerate().map(|(i, c)| {
        let before = i.checked_sub(1).and_then(|k| letters.get(k));
        let after = letters.get(i + 1);
        let between =
            before.is_some_and(char::is_ascii_digit) && after.is_some_and(|a| a.is_alphabetic() || *a == '%');
        if *c == ' ' && between { '\u{a0}' } else { *c }
    });
    each.collect()
}

/// Without columns in which nothing stands.
fn without_empty(t: &Table) -> Table {
    let says = |i: usize| i == 0 || t.rows.iter().any(|r| r.get(i).is_some_and(|c| !c.is_empty()));
    let kept = |row: &[String]| -> Vec<String> {
        let each = row.iter().enumerate();
        each.filter(|(i, _)| says(*i)).map(|(_, c)| c.clone()).collect()
    };
    Table {
        head: kept(&t.head),
        rows: t.rows.iter().map(|r| kept(r)).collect(),
    }
}

/// A short cell stays on one line, so that a number keeps its unit; one with a word longer than a column breaks anywhere.
fn cell_class(cell: &str) -> &'static str {
    /// Physical: so many letters have room in a column of ten.
    const SHORT_COUNT: usize = 11;
    /// Physical: no word of a language is longer, and wider than a column.
    const LONG_COUNT: usize = 22;
    if cell.chars().count() <= SHORT_COUNT {
        " class=\"short\""
    } else if cell.split_whitespace().any(|w| w.chars().count() > LONG_COUNT) {
        " class=\"long\""
    } else {
        ""
    }
}

/// A picture with identifiers of its own: the same picture may stand in a notebook twice.
fn figure(svg: &str, caption: &str, number: usize) -> String {
    let own = svg
        .split("aria-labelledby=\"")
        .nth(1)
        .and_then(|t| t.split("-title").next())
        .filter(|id| !id.is_empty() && id.chars().all(|c| c.is_ascii_alphanumeric() || c == '-'));
    let svg = own.map_or(svg.to_string(), |id| {
        svg.replace(&format!("\"{id}-"), &format!("\"figure{number}-"))
            .replace(&format!(" {id}-"), &format!(" figure{number}-"))
            .replace(&format!("(#{id}-"), &format!("(#figure{number}-"))
    });
    let class = if is_tall(&svg) { " class=\"tall\"" } else { "" };
    format!(
        "<figure{class}>{}<figcaption>Figure {number}. {}</figcaption></figure>\n",
        svg.trim_end(),
        escape(caption)
    )
}

/// Would its letters be too small at half a page's height?
fn is_tall(svg: &str) -> bool {
    /// Method: by this a picture is higher than wide, from which it gets the height of a page.
    const TALL_RATIO: f64 = 0.78;
    let size = |name: &str| -> Option<f64> {
        let text = svg.split(&format!(" {name}=\"")).nth(1)?;
        text.split('"').next()?.parse().ok()
    };
    matches!((size("width"), size("height")), (Some(w), Some(h)) if h > TALL_RATIO * w)
}

/// RFC 4648, section 4.
pub fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for three in bytes.chunks(3) {
        let part = |i: usize| u32::from(three.get(i).copied().unwrap_or(0));
        let all = part(0) << 16 | part(1) << 8 | part(2);
        for i in 0..4 {
            let letter = LETTERS
                .get((all >> (18 - 6 * i) & 63) as usize)
                .copied()
                .unwrap_or(b'=');
            out.push(if i <= three.len() { char::from(letter) } else { '=' });
        }
    }
    out
}

/// Method: so many lines of spots fit the card in its usual letters.
const USUAL_LINES: usize = 8;

/// The card as one file, on one page of either paper.
pub fn card(c: &Card, paper: Paper) -> String {
    let lines = card::line_count(&c.setpoints);
    let small = if lines > USUAL_LINES {
        (USUAL_LINES as f64 / lines as f64).max(0.6)
    } else {
        1.0
    };
    let style = format!(
        "{CARD_STYLE}@page {{ size: {}; margin: 12mm; }}\nbody {{ --rows: {small:.2}; }}\n",
        paper.size()
    );
    let ticks: Vec<String> = card::BEFORE
        .iter()
        .map(|b| format!("<li>{}</li>\n", escape(b)))
        .collect();
    let boxes: Vec<String> = (1..=5).map(|n| format!("<th scope=\"col\">{n}</th>")).collect();
    let body = format!(
        "<body>\n<main>\n<h1>{}</h1>\n<p>{}</p>\n{}<div class=\"pair\">\n<section><h2>Check with a ruler, battery off</h2>\n{}<p>Marks: {}.</p></section>\n\
         <section><h2>Wheel and battery</h2>\n{}</section>\n<section><h2>Before the match</h2>\n<ul class=\"ticks\">\n{}</ul></section>\n\
         <section><h2>Has anything changed?</h2>\n<p>{}</p>\n<table class=\"blank\"><thead><tr>{}</tr></thead><tbody><tr>{}</tr></tbody></table></section>\n</div>\n\
         <p class=\"caution\">{}</p>\n</main>\n<footer>{}</footer>\n</body>\n",
        escape(&c.project),
        escape(&c.basis),
        table("Setpoints", &c.setpoints),
        pairs(&c.ruler),
        escape(&c.marks),
        pairs(&c.battery),
        ticks.concat(),
        escape(card::FIVE),
        boxes.concat(),
        "<td></td>".repeat(5),
        escape(card::CAUTION),
        escape(&c.foot)
    );
    document(&format!("{}: pit card", c.project), &style, &body)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4648, section 10.
    #[test]
    fn bytes_become_the_letters_of_the_standard() {
        for (plain, coded) in [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ] {
            assert_eq!(base64(plain.as_bytes()), coded);
        }
    }

    #[test]
    fn a_name_cannot_leave_its_place_in_the_style() {
        let text = css_text("a\"}</style><script>\\ &\n");
        assert!(!text.contains('<') && !text.contains('\n'), "{text}");
        assert_eq!(text.matches('"').count(), 2, "{text}");
    }

    #[test]
    fn a_number_keeps_its_unit() {
        assert_eq!(
            unbroken("2061 rpm ± 20 rpm, a 5 %"),
            "2061\u{a0}rpm ± 20\u{a0}rpm, a 5\u{a0}%"
        );
    }

    #[test]
    fn backticks_in_pairs_are_code_and_one_alone_is_itself() {
        assert_eq!(rich("a `b<` c"), "a <code>b&lt;</code> c");
        assert_eq!(rich("a ` b"), "a ` b");
        assert_eq!(rich("`a` `"), "<code>a</code> `");
    }

    #[test]
    fn a_picture_gets_identifiers_of_its_own() {
        let svg = "<svg aria-labelledby=\"fan-1-title fan-1-desc\"><title id=\"fan-1-title\">t</title><path fill=\"url(#fan-1-up)\"/></svg>";
        let text = figure(svg, "c", 7);
        assert!(!text.contains("fan-1"), "{text}");
        assert!(text.contains("aria-labelledby=\"figure7-title figure7-desc\""));
    }
}
