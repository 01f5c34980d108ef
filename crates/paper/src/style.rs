//! Colours and the style sheet that every picture carries.
//!
//! Four series colours, ink, quiet ink, grid and paper, once for light and once for dark. No
//! colour stands alone: lines also differ in dash, points in shape, and each has a label.

/// The colours of one scheme, `#rrggbb`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Scheme {
    /// Ground.
    pub paper: &'static str,
    /// Text and main lines.
    pub ink: &'static str,
    /// Secondary text and thin lines.
    pub quiet: &'static str,
    /// Grid; carries no meaning of its own.
    pub grid: &'static str,
    /// Fill of solid bodies.
    pub body: &'static str,
    /// Series: indigo, rust, teal, plum.
    pub series: [&'static str; 4],
}

/// Colours on light paper.
pub const LIGHT: Scheme = Scheme {
    paper: "#fbfaf6",
    ink: "#1d2429",
    quiet: "#56606a",
    grid: "#dcdad1",
    body: "#e9e7de",
    series: ["#2c3fc6", "#bd4519", "#0e7d67", "#75307f"],
};

/// Colours on a dark ground.
pub const DARK: Scheme = Scheme {
    paper: "#14191c",
    ink: "#ece9e1",
    quiet: "#a9b1b6",
    grid: "#333b40",
    body: "#283035",
    series: ["#8480f2", "#e89b1f", "#27b873", "#b583c0"],
};

/// How many series look different from each other: every pair of colour and dash is one.
pub const SERIES: usize = 8;

/// Class of the line of series `index`: colour and dash.
pub fn line_class(index: usize) -> String {
    format!("s c{} d{}", index % LIGHT.series.len(), index % SERIES)
}

/// Dash patterns, drawing units; the first is solid. Each goes with its own colour in
/// [`line_class`], so two lines that share a colour differ in dash.
const DASHES: [&str; SERIES] = [
    "none",
    "11 4",
    "6 3",
    "14 3 3 3",
    "2.5 3.5",
    "18 5",
    "8 3 2.5 3 2.5 3",
    "4 2 1.5 2",
];

/// Rules for pictures of many points: the cloud, and one number set large.
pub const CLOUD: &str = ".arcw .xl{font-size:28px;font-weight:600}\
    .arcw .dots{stroke-width:3.2;stroke-linecap:round;stroke-opacity:.6}";

const FONTS: &str =
    "system-ui,-apple-system,'Segoe UI',Roboto,'Noto Sans','Liberation Sans',Arial,sans-serif";

/// The style sheet. Every colour is given twice, plainly and through a custom property, so that
/// a viewer that knows no custom properties shows the light scheme.
pub fn sheet() -> String {
    let mut css = String::with_capacity(3600);
    css.push_str(&format!(
        ".arcw{{max-width:100%;height:auto;fill:none;font-family:{FONTS}}}"
    ));
    css.push_str(&properties(".arcw", &LIGHT));
    css.push_str("@media screen and (prefers-color-scheme:dark){");
    css.push_str(&properties(".arcw", &DARK));
    css.push('}');
    // A page with its own switch sets data-scheme on any ancestor; paper is always light.
    css.push_str("@media screen{");
    css.push_str(&properties(
        "[data-scheme=light] .arcw,.arcw[data-scheme=light]",
        &LIGHT,
    ));
    css.push_str(&properties(
        "[data-scheme=dark] .arcw,.arcw[data-scheme=dark]",
        &DARK,
    ));
    css.push('}');
    let mut rule = |selector: &str, body: &str| {
        let scoped: Vec<String> = selector.split(',').map(|s| format!(".arcw {s}")).collect();
        css.push_str(&format!("{}{{{body}}}", scoped.join(",")));
    };
    let ink = |property: &str| paint(property, "ink", LIGHT.ink);
    let quiet = |property: &str| paint(property, "quiet", LIGHT.quiet);
    let paper = |property: &str| paint(property, "paper", LIGHT.paper);
    rule(
        "text",
        &format!("font-size:14px;{};font-variant-numeric:tabular-nums", ink("fill")),
    );
    rule(".h", "font-size:17px;font-weight:600");
    rule(".b", "font-weight:600");
    rule(".m", &quiet("fill"));
    rule(".sm", "font-size:13px");
    rule(
        ".halo",
        &format!(
            "paint-order:stroke;{};stroke-width:4px;stroke-linejoin:round",
            paper("stroke")
        ),
    );
    rule("path", "stroke-linejoin:round");
    rule(".paper", &paper("fill"));
    rule(".k", &format!("{};stroke-width:1.5", ink("stroke")));
    rule(
        ".kb",
        &format!("{};stroke-width:3.5;stroke-linecap:round", ink("stroke")),
    );
    rule(".kf", &ink("fill"));
    rule(".q", &format!("{};stroke-width:1", quiet("stroke")));
    rule(".qd", "stroke-dasharray:4 3");
    rule(".qf", &quiet("fill"));
    rule(
        ".g",
        &format!("{};stroke-width:1", paint("stroke", "grid", LIGHT.grid)),
    );
    rule(".bf", &paint("fill", "body", LIGHT.body));
    rule(".pf", &paper("fill"));
    for (i, color) in LIGHT.series.iter().enumerate() {
        let name = format!("s{i}");
        rule(&format!(".c{i}"), &paint("stroke", &name, color));
        rule(&format!(".f{i}"), &paint("fill", &name, color));
        rule(
            &format!(".w{i}"),
            &format!("{};fill-opacity:.15", paint("fill", &name, color)),
        );
    }
    rule(".s", "stroke-width:2.25");
    rule(".s1", "stroke-width:1.25");
    rule(".sb", "stroke-width:4.5;stroke-linecap:round");
    for (i, dash) in DASHES.iter().enumerate().skip(1) {
        rule(&format!(".d{i}"), &format!("stroke-dasharray:{dash}"));
    }
    css
}

fn properties(selector: &str, scheme: &Scheme) -> String {
    let mut text = format!(
        "{selector}{{--arcw-paper:{};--arcw-ink:{};--arcw-quiet:{};--arcw-grid:{};--arcw-body:{}",
        scheme.paper, scheme.ink, scheme.quiet, scheme.grid, scheme.body
    );
    for (i, color) in scheme.series.iter().enumerate() {
        text.push_str(&format!(";--arcw-s{i}:{color}"));
    }
    text.push('}');
    text
}

fn paint(property: &str, name: &str, plain: &str) -> String {
    format!("{property}:{plain};{property}:var(--arcw-{name})")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn linear(color: &str) -> [f64; 3] {
        [1, 3, 5].map(|at| {
            let c = f64::from(u8::from_str_radix(&color[at..at + 2], 16).unwrap()) / 255.0;
            if c <= 0.04045 {
                c / 12.92
            } else {
                ((c + 0.055) / 1.055).powf(2.4)
            }
        })
    }

    /// Contrast ratio, Web Content Accessibility Guidelines 2.2, "relative luminance" and
    /// "contrast ratio" [wcag22].
    fn contrast(a: &str, b: &str) -> f64 {
        let luminance = |c: &str| {
            let [r, g, b] = linear(c);
            0.2126 * r + 0.7152 * g + 0.0722 * b
        };
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    /// CIELAB, D65, from linear sRGB (IEC 61966-2-1 matrix) [cie15].
    fn lab(rgb: [f64; 3]) -> [f64; 3] {
        let row = |m: [f64; 3]| m[0] * rgb[0] + m[1] * rgb[1] + m[2] * rgb[2];
        let f = |t: f64| {
            if t > 0.008856 {
                t.cbrt()
            } else {
                7.787 * t + 16.0 / 116.0
            }
        };
        let x = f(row([0.4124564, 0.3575761, 0.1804375]) / 0.95047);
        let y = f(row([0.2126729, 0.7151522, 0.0721750]));
        let z = f(row([0.0193339, 0.1191920, 0.9503041]) / 1.08883);
        [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
    }

    /// Full-strength simulation matrices of Machado, Oliveira and Fernandes 2009 [machado2009],
    /// as held by the reference library colorspacious 1.1.2.
    const EYES: [(&str, [[f64; 3]; 3]); 4] = [
        ("full colour", [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]),
        (
            "protan",
            [
                [0.152286, 1.052583, -0.204868],
                [0.114503, 0.786281, 0.099216],
                [-0.003882, -0.048116, 1.051998],
            ],
        ),
        (
            "deutan",
            [
                [0.367322, 0.860646, -0.227968],
                [0.280085, 0.672501, 0.047413],
                [-0.011820, 0.042940, 0.968881],
            ],
        ),
        (
            "tritan",
            [
                [1.255528, -0.076749, -0.178779],
                [-0.078411, 0.930809, 0.147602],
                [0.004733, 0.691367, 0.303900],
            ],
        ),
    ];

    fn schemes() -> [(&'static str, Scheme); 2] {
        [("light", LIGHT), ("dark", DARK)]
    }

    #[test]
    fn contrast_of_the_standard_pairs_matches_wcag() {
        // WCAG 2.2: black on white is 21:1; #777777 on white is the usual near miss, 4.48.
        assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
        assert!((contrast("#777777", "#ffffff") - 4.48).abs() < 0.005);
    }

    #[test]
    fn every_text_and_line_colour_stands_out_from_the_paper() {
        for (name, s) in schemes() {
            for text in [s.ink, s.quiet].into_iter().chain(s.series) {
                let ratio = contrast(text, s.paper);
                assert!(ratio >= 4.5, "{name}: {text} on paper {ratio:.2}");
            }
            for line in [s.ink, s.quiet].into_iter().chain(s.series) {
                let ratio = contrast(line, s.body);
                assert!(ratio >= 3.0, "{name}: {line} on a body {ratio:.2}");
            }
            assert!(contrast(s.ink, s.body) >= 4.5);
        }
    }

    #[test]
    fn series_stay_apart_for_colour_blind_eyes() {
        // A CIELAB distance of 20 is many times the just noticeable 2.3.
        for (name, s) in schemes() {
            let colors: Vec<&str> = s.series.into_iter().chain([s.ink]).collect();
            for (eye, m) in EYES {
                let seen = |c: &str| {
                    let rgb = linear(c);
                    lab(m.map(|r| (r[0] * rgb[0] + r[1] * rgb[1] + r[2] * rgb[2]).clamp(0.0, 1.0)))
                };
                for (i, a) in colors.iter().enumerate() {
                    for b in &colors[..i] {
                        let (p, q) = (seen(a), seen(b));
                        let apart = (0..3).map(|k| (p[k] - q[k]).powi(2)).sum::<f64>().sqrt();
                        assert!(apart > 20.0, "{name}, {eye}: {a} and {b} are {apart:.1} apart");
                    }
                }
            }
        }
    }

    #[test]
    fn eight_series_differ_in_colour_or_dash() {
        let mut classes: Vec<String> = (0..SERIES).map(line_class).collect();
        classes.sort();
        classes.dedup();
        assert_eq!(classes.len(), SERIES);
        let mut dashes = DASHES.to_vec();
        dashes.sort_unstable();
        dashes.dedup();
        assert_eq!(dashes.len(), SERIES);
    }

    #[test]
    fn every_colour_has_a_plain_value_and_a_property_that_both_schemes_define() {
        let sheet = sheet();
        for used in sheet.split("var(--").skip(1) {
            let name = used.split(')').next().unwrap();
            // Light, dark, and the two that a page can force.
            assert_eq!(sheet.matches(&format!("--{name}:")).count(), 4, "{name}");
            let plain = sheet.split(&format!("var(--{name})")).next().unwrap();
            let before = plain.rsplit(':').nth(1).unwrap();
            assert!(before.starts_with('#') && before.len() > 7, "{before}");
        }
        let dark = sheet
            .find("@media screen and (prefers-color-scheme:dark)")
            .unwrap();
        assert!(sheet[dark..].contains(DARK.paper) && !sheet[..dark].contains(DARK.paper));
    }

    #[test]
    fn no_text_in_the_sheet_is_below_eleven_pixels() {
        for size in sheet().split("font-size:").skip(1) {
            let px: f64 = size.split("px").next().unwrap().parse().unwrap();
            assert!(px >= 11.0, "{px}");
        }
    }
}
