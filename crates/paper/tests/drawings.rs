//! Every picture: well formed, to scale, readable, and the same bytes for the same input.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod samples;

use arcwright_model::launcher::PassageSample;
use arcwright_model::project::UnitSystem::{self, Metric, Us};
use arcwright_paper::drawings::guide_force::{GuideForce, SqueezeAlong};
use arcwright_paper::drawings::{
    bite, budget, drift, fan, film, front, guide_force, hit_map, hopper, plan_view, scatter, setpoints,
    side_view, stuck, telemetry, trade, volley, waits, wander,
};
use arcwright_paper::geometry::Rect;
use arcwright_paper::place::text_width_px;
use roxmltree::{Document, Node};

/// Every picture in every variant that the tests look at: name, SVG, words.
fn gallery() -> Vec<(String, String, String)> {
    let mut all = Vec::new();
    let mut add = |name: String, svg: String, words: String| all.push((name, svg, words));
    for (tag, units) in [("metric", Metric), ("us", Us)] {
        let it = samples::side_view(units);
        add(format!("side-{tag}"), side_view::draw(&it), side_view::words(&it));
        let it = side_view::SideView {
            trace: Vec::new(),
            exit: None,
            ..it
        };
        add(
            format!("side-empty-{tag}"),
            side_view::draw(&it),
            side_view::words(&it),
        );
        let it = samples::pair_view(units);
        add(format!("pair-{tag}"), side_view::draw(&it), side_view::words(&it));
        let it = samples::hoop(units);
        add(format!("hoop-{tag}"), fan::draw(&it), fan::words(&it));
        let it = samples::plan_view(units);
        add(format!("plan-{tag}"), plan_view::draw(&it), plan_view::words(&it));
        let it = samples::hopper(units);
        add(format!("hopper-{tag}"), hopper::draw(&it), hopper::words(&it));
        let it = samples::stuck(units);
        add(format!("stuck-{tag}"), stuck::draw(&it), stuck::words(&it));
        let it = samples::waits(units);
        add(format!("waits-{tag}"), waits::draw(&it), waits::words(&it));
        let it = samples::waits_compared();
        add(
            format!("waits-compared-{tag}"),
            waits::draw(&it),
            waits::words(&it),
        );
        let it = samples::guide_force(units);
        add(
            format!("force-{tag}"),
            guide_force::draw(&it),
            guide_force::words(&it),
        );
        let it = samples::hit_map(units);
        add(format!("map-{tag}"), hit_map::draw(&it), hit_map::words(&it));
        let it = hit_map::HitMap {
            distances_m: Vec::new(),
            offsets_m: Vec::new(),
            hit_frac: Vec::new(),
            ..it
        };
        add(
            format!("map-empty-{tag}"),
            hit_map::draw(&it),
            hit_map::words(&it),
        );
        let hole = bite::Opening::Hole { diameter_m: 0.014 };
        let seam = bite::Opening::Seam {
            width_m: 0.004,
            depth_m: 0.001,
        };
        for (count, opening) in [(1, hole), (2, hole), (20, hole), (1, seam)] {
            let it = samples::bite(units, count, opening);
            let kind = if opening == seam { "seam" } else { "hole" };
            add(
                format!("bite-{count}-{kind}-{tag}"),
                bite::draw(&it),
                bite::words(&it),
            );
        }
        for count in 1..=8 {
            let spots = samples::spots(count);
            let it = samples::fan(units, &spots, count < 5);
            add(format!("fan-{count}-{tag}"), fan::draw(&it), fan::words(&it));
            let it = samples::setpoints(units, &spots);
            add(
                format!("setpoints-{count}-{tag}"),
                setpoints::draw(&it),
                setpoints::words(&it),
            );
        }
        for (count, upright) in [(0, false), (1, false), (2, true), (3, false), (8, false)] {
            let it = samples::scatter(units, count, upright);
            add(
                format!("scatter-{count}-{tag}"),
                scatter::draw(&it),
                scatter::words(&it),
            );
        }
        for count in [0, 1, 2, 8] {
            let it = samples::budget(units, count);
            add(
                format!("budget-{count}-{tag}"),
                budget::draw(&it),
                budget::words(&it),
            );
        }
        let it = samples::trade(units);
        add(format!("trade-{tag}"), trade::draw(&it), trade::words(&it));
        let it = samples::hard_scatter(units);
        add(
            format!("hard-scatter-{tag}"),
            scatter::draw(&it),
            scatter::words(&it),
        );
        let it = samples::hard_budget(units);
        add(
            format!("hard-budget-{tag}"),
            budget::draw(&it),
            budget::words(&it),
        );
        let it = samples::hard_trade(units);
        add(format!("hard-trade-{tag}"), trade::draw(&it), trade::words(&it));
        let it = samples::hard_front(units);
        add(format!("hard-front-{tag}"), front::draw(&it), front::words(&it));
        for count in [0, 1, 7, 40] {
            let it = samples::front(units, count);
            add(
                format!("front-{count}-{tag}"),
                front::draw(&it),
                front::words(&it),
            );
        }
        for (count, volts) in [(0, false), (1, true), (6, true), (40, false)] {
            let it = samples::telemetry(units, count, volts);
            add(
                format!("telemetry-{count}-{tag}"),
                telemetry::draw(&it),
                telemetry::words(&it),
            );
        }
        for count in [2, 40] {
            let it = samples::film(units, count);
            add(format!("film-{count}-{tag}"), film::draw(&it), film::words(&it));
        }
        for (count, sideways) in [(0, false), (5, false), (3, true)] {
            let it = samples::wander(units, sideways, count);
            add(
                format!("wander-{count}-{tag}"),
                wander::draw(&it),
                wander::words(&it),
            );
        }
        for (count, shift, first) in [
            (0, 0.0, 1),
            (1, 0.0, 7),
            (5, 1.6, 12),
            (8, -2.4, 118),
            (60, 0.3, 1),
        ] {
            let it = samples::drift(count, shift, first);
            add(
                format!("drift-{count}-{tag}"),
                drift::draw(&it),
                drift::words(&it),
            );
        }
        for count in [0, 1, 4, 12, 40] {
            let it = samples::volley(units, count);
            add(
                format!("volley-{count}-{tag}"),
                volley::draw(&it),
                volley::words(&it),
            );
        }
    }
    all
}

fn number(node: &Node, name: &str) -> f64 {
    node.attribute(name).unwrap().parse().unwrap()
}

fn group<'a>(doc: &'a Document, class: &str) -> Node<'a, 'a> {
    doc.descendants()
        .find(|n| n.attribute("class") == Some(class))
        .unwrap()
}

#[test]
fn every_picture_is_well_formed_and_names_and_describes_itself() {
    for (name, svg, words) in gallery() {
        let doc = Document::parse(&svg).unwrap_or_else(|e| panic!("{name}: {e}"));
        let root = doc.root_element();
        assert_eq!(root.attribute("role"), Some("img"), "{name}");
        let labels = root.attribute("aria-labelledby").unwrap().split(' ');
        let texts: Vec<&str> = labels
            .map(|id| {
                doc.descendants()
                    .find(|n| n.attribute("id") == Some(id))
                    .unwrap()
                    .text()
                    .unwrap()
            })
            .collect();
        assert!(texts[0].len() > 10, "{name}");
        assert_eq!(texts[1], words, "{name}");
        assert!(words.len() > 60 && words.ends_with('.'), "{name}: {words}");
        let mut ids: Vec<&str> = doc.descendants().filter_map(|n| n.attribute("id")).collect();
        ids.sort_unstable();
        let count = ids.len();
        ids.dedup();
        assert_eq!(ids.len(), count, "{name}: an identifier occurs twice");
        for used in svg.split("url(#").skip(1) {
            let id = used.split(')').next().unwrap();
            assert!(ids.contains(&id), "{name}: {id} is not there");
        }
    }
}

#[test]
fn the_bite_picture_says_from_which_width_on_a_wheel_bridges() {
    let hole = bite::Opening::Hole { diameter_m: 0.014 };
    let it = samples::bite(Metric, 1, hole);
    // 2.2 exp(−(w/18)²) + 0.3 falls below 0.6 mm at w = 18 √ln(2.2/0.3) = 25.4 mm: the first drawn is 26 mm.
    let words = bite::words(&it);
    for fact in [
        "bridges from 26\u{a0}mm on",
        "30\u{a0}mm",
        "0.6\u{a0}mm",
        "hole 14\u{a0}mm across",
    ] {
        assert!(words.contains(fact), "{fact}: {words}");
    }
    let deep = bite::BiteChart { limit_m: 1e-5, ..it };
    assert!(bite::words(&deep).contains("No width drawn bridges"));
    let pair = bite::words(&samples::bite(Metric, 2, hole));
    assert!(pair.contains("2 × 8\u{a0}mm with 9\u{a0}mm between"), "{pair}");
}

#[test]
fn a_sum_beyond_the_limit_is_drawn_beyond_it_and_named_with_its_shot() {
    let it = samples::drift(8, -2.4, 118);
    let svg = drift::draw(&it);
    let doc = Document::parse(&svg).unwrap();
    let limits: Vec<f64> = doc
        .descendants()
        .filter(|n| n.attribute("class") == Some("k qd"))
        .map(|n| number(&n, "y1"))
        .collect();
    assert_eq!(limits.len(), 4, "two for each chart");
    let lower = doc
        .descendants()
        .find(|n| n.attribute("class") == Some("s c1 d1"))
        .unwrap();
    let last = lower.attribute("d").or(lower.attribute("points")).unwrap();
    let y: f64 = last
        .trim_end_matches('Z')
        .split([' ', ','])
        .next_back()
        .unwrap()
        .parse()
        .unwrap();
    assert!(y > limits[1], "{y} {limits:?}");
    let called = it.strips[0].called_at.unwrap();
    assert!(svg.contains(&format!(">shot {}<", 118 + called)), "{called}");
    assert!(drift::words(&it).contains(&format!("calls at shot {}", 118 + called)));
    let quiet = drift::words(&samples::drift(5, 0.0, 1));
    assert!(quiet.contains("no call") && quiet.contains("of 4.0"), "{quiet}");
}

#[test]
fn an_interval_that_is_wide_open_leaves_the_bars_their_room_and_says_how_far_it_goes() {
    let it = samples::wander(Metric, false, 5);
    let svg = wander::draw(&it);
    let doc = Document::parse(&svg).unwrap();
    let bars: Vec<f64> = doc
        .descendants()
        .filter(|n| n.has_tag_name("rect") && n.attribute("class") == Some("f0"))
        .map(|n| number(&n, "width"))
        .collect();
    // 1.42 % on an axis that ends at 5 %, not at the 26.8 % of the session.
    assert!(bars[0] > 60.0, "{bars:?}");
    assert!(svg.contains("cannot tell, to 26.8"), "{svg}");
}

#[test]
fn words_tell_the_numbers_of_the_picture() {
    let words = side_view::words(&samples::side_view(Metric));
    for fact in [
        "96\u{a0}mm",
        "112\u{a0}mm",
        "9.35\u{a0}m/s",
        "51.9° up",
        "backspin 1576\u{a0}rpm",
    ] {
        assert!(words.contains(fact), "{fact}: {words}");
    }
    let words = volley::words(&samples::volley(Metric, 4));
    for fact in ["4 throws", "number 4", "300\u{a0}rpm"] {
        assert!(words.contains(fact), "{fact}: {words}");
    }
    let words = setpoints::words(&samples::setpoints(Metric, &[1.1, 4.9]));
    assert!(words.contains("mooring at 4.9\u{a0}m: out of reach"), "{words}");
    assert!(fan::words(&samples::hoop(Metric)).contains("crane foot (4.2\u{a0}m): short"));
    assert!(guide_force::words(&samples::guide_force(Metric)).contains("16\u{a0}mm"));
}

/// Wheel diameter over scale bar, both as drawn.
fn wheel_over_bar(units: UnitSystem) -> f64 {
    let svg = side_view::draw(&samples::side_view(units));
    let doc = Document::parse(&svg).unwrap();
    let wheel = group(&doc, "wheel")
        .children()
        .find(|n| n.has_tag_name("circle"))
        .unwrap();
    let bar = group(&doc, "scale-bar")
        .children()
        .find(|n| n.has_tag_name("line"))
        .unwrap();
    2.0 * number(&wheel, "r") / (number(&bar, "x2") - number(&bar, "x1"))
}

#[test]
fn the_wheel_is_drawn_to_the_scale_of_the_bar() {
    // Three decimals of a drawing unit over a bar of about a hundred.
    assert!((wheel_over_bar(Metric) - 0.096 / 0.1).abs() < 1e-4);
    // 4 in = 101.6 mm (NIST SP 811).
    assert!((wheel_over_bar(Us) - 0.096 / 0.1016).abs() < 1e-4);
}

#[test]
fn pieces_in_the_gap_are_as_thick_as_the_gap_and_free_pieces_are_round() {
    let input = samples::side_view(Metric);
    let svg = side_view::draw(&input);
    let doc = Document::parse(&svg).unwrap();
    let wheel = group(&doc, "wheel")
        .children()
        .find(|n| n.has_tag_name("circle"))
        .unwrap();
    let px_per_m = number(&wheel, "r") / 0.048;
    // Each outline is two half ellipses, "M… A long short …A long short …".
    let outlines: Vec<[f64; 3]> = group(&doc, "pieces")
        .children()
        .filter(|n| n.has_tag_name("path"))
        .map(|n| {
            let radii: Vec<f64> = n
                .attribute("d")
                .unwrap()
                .split('A')
                .skip(1)
                .flat_map(radii)
                .collect();
            [radii[0], radii[1], radii[3]].map(|px| px / px_per_m)
        })
        .collect();
    assert_eq!(outlines.len(), 8);
    let last = outlines[7];
    assert!(last.iter().all(|m| (m - 0.056).abs() < 1e-5), "{last:?}");
    let pressed = outlines
        .iter()
        .filter(|o| (o[1] + o[2] - 0.096).abs() < 2e-4)
        .count();
    assert!(pressed >= 2, "{outlines:?}");
}

#[test]
fn outlines_stand_at_even_times() {
    // The pair's piece moves at constant speed, so even times are even distances.
    let svg = side_view::draw(&samples::pair_view(Metric));
    let doc = Document::parse(&svg).unwrap();
    let x: Vec<f64> = group(&doc, "pieces")
        .children()
        .filter(|n| n.has_tag_name("line"))
        .map(|n| number(&n, "x1"))
        .collect();
    assert_eq!(x.len(), 8);
    let steps: Vec<f64> = x.windows(2).map(|w| w[1] - w[0]).collect();
    assert!(
        steps.iter().all(|s| *s > 5.0 && (s - steps[0]).abs() < 0.01),
        "{steps:?}"
    );
}

#[test]
fn samples_that_are_no_numbers_are_left_out() {
    let clean = samples::side_view(Metric);
    let mut broken = clean.clone();
    let mut bad = broken.trace[40];
    bad.centre_m[0] = f64::NAN;
    broken.trace.push(bad);
    bad.centre_m[0] = 1e12;
    broken.trace.push(bad);
    bad.time_s = f64::INFINITY;
    bad.centre_m[0] = 0.0;
    broken.trace.push(PassageSample {
        centre_m: [f64::NAN; 2],
        ..bad
    });
    assert_eq!(side_view::draw(&broken), side_view::draw(&clean));
}

#[test]
fn the_gripping_part_ends_where_the_wheel_lets_go() {
    // The sample grips from 55 mm into an arc of 132.4 mm to 45 mm beyond it: 122 mm.
    let words = guide_force::words(&samples::guide_force(Metric));
    assert!(
        words.contains("grips the wheel over 121\u{a0}mm") || words.contains("over 122\u{a0}mm"),
        "{words}"
    );
    let mut slipping = samples::guide_force(Metric);
    slipping.trace.iter_mut().for_each(|s| {
        if s.wheel_slip_mps == 0.0 {
            s.wheel_slip_mps = -1e-12;
        }
    });
    assert!(
        guide_force::draw(&slipping).contains(">grips the wheel<"),
        "rounding is no slip"
    );
    slipping.trace.iter_mut().for_each(|s| s.wheel_slip_mps = 0.5);
    assert!(guide_force::words(&slipping).contains("slips on the wheel all the way"));
    assert!(!guide_force::draw(&slipping).contains(">grips the wheel<"));
}

#[test]
fn the_panel_of_the_squeeze_is_there_only_where_a_guide_is_said_to_stray() {
    let plain = samples::guide_force(Metric);
    assert!(!guide_force::draw(&plain).contains("squeeze along the guide"));
    let found = |i: u32| [0.02 * f64::from(i), if i == 4 { 8e-3 } else { 12e-3 }];
    let along = SqueezeAlong {
        found_m: (0..10).map(found).collect(),
        meant_m: [12e-3; 2],
        mean_m: 11.6e-3,
        worst_m: [0.08, 8e-3],
        one_of_many: false,
    };
    let lumpy = GuideForce {
        squeeze: Some(along.clone()),
        ..plain.clone()
    };
    let svg = guide_force::draw(&lumpy);
    assert!(svg.contains(">squeeze along the guide, as measured<") && svg.contains("meant 12"));
    let worst = "3.6\u{a0}mm less than the mean at 80\u{a0}mm";
    assert!(svg.contains(&format!(">{worst}<")) && guide_force::words(&lumpy).contains(worst));
    // Nothing is out: nothing is marked.
    let even = GuideForce {
        squeeze: Some(SqueezeAlong {
            mean_m: 8e-3,
            ..along
        }),
        ..plain
    };
    assert!(!guide_force::draw(&even).contains("than the mean"));
}

fn radii(arc: &str) -> Vec<f64> {
    arc.split(' ').take(2).map(|v| v.parse().unwrap()).collect()
}

#[test]
fn the_target_is_drawn_to_the_scale_of_the_wheel() {
    let input = samples::fan(Metric, &[1.1], false);
    let svg = fan::draw(&input);
    let doc = Document::parse(&svg).unwrap();
    let beads: Vec<f64> = group(&doc, "target")
        .children()
        .filter(|n| n.has_tag_name("circle"))
        .map(|n| number(&n, "cx"))
        .collect();
    let wheel = doc
        .descendants()
        .find(|n| n.attribute("class") == Some("bf k"))
        .unwrap();
    let drawn = (beads[1] - beads[0]) / number(&wheel, "r");
    assert!((drawn - 0.39 / 0.048).abs() < 1e-2, "{drawn}");
    // The spot stands 1.1 m before the near rim.
    let before = (beads[0] - number(&wheel, "cx")) / number(&wheel, "r");
    assert!((before - 1.1 / 0.048).abs() < 2e-2, "{before}");
}

/// What a text covers, from below the capitals' top to the base line.
fn text_box(node: &Node, text: &str) -> Option<Rect> {
    let class = node.attribute("class").unwrap_or("");
    let has = |c: &str| class.split(' ').any(|k| k == c);
    let size = if has("h") {
        17.0
    } else if has("xl") {
        28.0
    } else if has("sm") {
        13.0
    } else {
        14.0
    };
    let width = text_width_px(text, size) / 1.13
        * if has("b") || has("h") || has("xl") {
            1.08
        } else {
            1.0
        };
    let (x, y) = (number(node, "x"), number(node, "y"));
    let start = match node.attribute("text-anchor") {
        Some("middle") => -0.5,
        Some("end") => -1.0,
        _ => 0.0,
    };
    let height = 0.72 * size;
    Some(if node.has_attribute("transform") {
        Rect {
            x_px: x - height,
            y_px: y - 0.5 * width,
            width_px: height,
            height_px: width,
        }
    } else {
        Rect {
            x_px: x + start * width,
            y_px: y - height,
            width_px: width,
            height_px: height,
        }
    })
}

#[test]
fn no_text_covers_another_or_leaves_the_picture() {
    for (name, svg, _) in gallery() {
        let doc = Document::parse(&svg).unwrap();
        let root = doc.root_element();
        let area = Rect {
            x_px: 0.0,
            y_px: 0.0,
            width_px: number(&root, "width"),
            height_px: number(&root, "height"),
        };
        let texts: Vec<(&str, Rect)> = doc
            .descendants()
            .filter(|n| n.has_tag_name("text"))
            .filter_map(|n| Some((n.text()?, text_box(&n, n.text()?)?)))
            .collect();
        let least = if name.contains("-0-") { 3 } else { 9 };
        assert!(texts.len() >= least, "{name}");
        for (i, (text, a)) in texts.iter().enumerate() {
            let inside = a.shared_px2(&area) / (a.width_px * a.height_px);
            assert!(inside > 0.999, "{name}: '{text}' leaves the picture: {a:?}");
            for (other, b) in &texts[..i] {
                assert!(
                    a.shared_px2(b) < 0.5,
                    "{name}: '{text}' covers '{other}'\n{a:?}\n{b:?}"
                );
            }
        }
    }
}

#[test]
fn every_spot_is_named_with_its_setpoint_up_to_eight_spots() {
    for count in 1..=8 {
        let spots = samples::spots(count);
        let input = samples::setpoints(Metric, &spots);
        let svg = setpoints::draw(&input);
        let doc = Document::parse(&svg).unwrap();
        let texts: Vec<&str> = doc
            .descendants()
            .filter(|n| n.has_tag_name("text"))
            .filter_map(|n| n.text())
            .collect();
        for spot in &input.spots {
            assert!(
                texts.contains(&spot.name.as_str()),
                "{count} spots: {} is missing",
                spot.name
            );
        }
        let input = samples::fan(Metric, &spots, false);
        let svg = fan::draw(&input);
        for i in 1..=count {
            assert!(
                svg.contains(&format!(">{i} · ")),
                "{count} flights: {i} has no label"
            );
        }
    }
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    assert_eq!(gallery(), gallery());
}

#[test]
fn the_plan_is_to_scale_and_left_is_up() {
    let input = samples::plan_view(Metric);
    let svg = plan_view::draw(&input);
    let doc = Document::parse(&svg).unwrap();
    let corners = |class: &str| -> Vec<[f64; 2]> {
        let d = group(&doc, class)
            .children()
            .find(|n| n.has_tag_name("path"))
            .unwrap()
            .attribute("d")
            .unwrap()
            .to_string();
        let numbers: Vec<f64> = d
            .split(|c: char| c.is_alphabetic() || c == ' ')
            .filter_map(|t| t.parse().ok())
            .collect();
        numbers.chunks(2).map(|c| [c[0], c[1]]).collect()
    };
    let far = |a: [f64; 2], b: [f64; 2]| (a[0] - b[0]).hypot(a[1] - b[1]);
    let bar = group(&doc, "scale-bar")
        .children()
        .find(|n| n.has_tag_name("line"))
        .unwrap();
    let metre = number(&bar, "x2") - number(&bar, "x1");
    assert!(svg.contains(">1\u{a0}m<"), "the bar is one metre");
    let (robot, opening) = (corners("robot"), corners("opening"));
    assert!((far(robot[1], robot[2]) / metre - 0.52).abs() < 1e-3);
    assert!((far(robot[0], robot[1]) / metre - 0.48).abs() < 1e-3);
    assert!((far(opening[1], opening[2]) / metre - 0.64).abs() < 1e-3);
    assert!(opening[2][1] < opening[1][1], "left of the throw is up");
    let words = plan_view::words(&input);
    for fact in [
        "9.7° to the right",
        "0.94\u{a0}m/s",
        "1.13\u{a0}m while",
        "20.1° each second to the left",
        "0.142\u{a0}m before",
    ] {
        assert!(words.contains(fact), "{fact}: {words}");
    }
}

#[test]
fn a_long_trace_stays_a_small_file() {
    // Thousands of samples, as the model gives them; a page shows several pictures.
    let input = samples::volley(Metric, 12);
    assert!(input.samples.len() > 5000);
    let size = volley::draw(&input).len();
    assert!(size < 40_000, "{size} bytes");
}

#[test]
fn pictures_match_the_ones_looked_at() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden");
    let update = std::env::var_os("UPDATE").is_some();
    let chosen = [
        "side-metric",
        "pair-us",
        "fan-3-metric",
        "fan-8-us",
        "hoop-metric",
        "volley-4-metric",
    ];
    let chosen = [
        &chosen[..],
        &[
            "force-metric",
            "setpoints-3-metric",
            "setpoints-8-us",
            "plan-metric",
        ],
        &["scatter-1-us", "scatter-2-metric", "budget-2-metric", "trade-us"],
        &["front-7-metric", "telemetry-6-metric", "film-40-metric"],
        &["drift-5-metric", "drift-8-us", "wander-5-metric", "map-metric"],
    ]
    .concat();
    let all = gallery();
    for name in chosen {
        let (_, svg, _) = all.iter().find(|g| g.0 == name).unwrap();
        let path = folder.join(format!("{name}.svg"));
        if update {
            std::fs::write(&path, svg).unwrap();
        }
        let golden = std::fs::read_to_string(&path).unwrap_or_default();
        let differs = golden.lines().zip(svg.lines()).position(|(a, b)| a != b);
        assert!(
            golden == *svg,
            "{name} differs from its golden file from line {:?} on; look at it, then UPDATE=1 cargo test",
            differs.map(|n| n + 1)
        );
    }
}
