//! The pictures of scatter, error budget, trade and front show the numbers they were given.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod samples;

use arcwright_model::project::UnitSystem::{Metric, Us};
use arcwright_model::target::Outcome;
use arcwright_model::units::Dimension;
use arcwright_paper::drawings::Better::{self, Higher, Lower};
use arcwright_paper::drawings::budget::{self, BudgetCause, Share};
use arcwright_paper::drawings::front::{self, FrontPicture, FrontPoint};
use arcwright_paper::drawings::scatter::{self, ScatterPicture};
use arcwright_paper::drawings::trade::{self, TradePicture};
use arcwright_paper::geometry::{distance, nearest_on};
use arcwright_paper::units::Measure;
use roxmltree::{Document, Node};

type Points = Vec<[f64; 2]>;

/// The corners of a path of straight lines, one list for each of its parts.
fn parts(node: Node) -> Vec<Points> {
    let point = |text: &str| -> [f64; 2] {
        let v: Vec<f64> = text.split(' ').map(|v| v.parse().unwrap()).collect();
        [v[0], v[1]]
    };
    let d = node.attribute("d").unwrap().trim_end_matches('Z');
    d.split('M')
        .skip(1)
        .map(|part| part.split('L').map(point).collect())
        .collect()
}

fn groups<'a>(doc: &'a Document, class: &str) -> Vec<Node<'a, 'a>> {
    let all = doc.descendants();
    all.filter(|n| n.attribute("class") == Some(class)).collect()
}

fn paths<'a>(node: Node<'a, 'a>) -> Vec<Node<'a, 'a>> {
    node.children().filter(|n| n.has_tag_name("path")).collect()
}

fn number(node: &Node, name: &str) -> f64 {
    node.attribute(name).unwrap().parse().unwrap()
}

fn texts(svg: &str) -> Vec<String> {
    let doc = Document::parse(svg).unwrap();
    let all = doc.descendants().filter(|n| n.has_tag_name("text"));
    all.filter_map(|n| n.text().map(str::to_string)).collect()
}

fn span(values: impl Iterator<Item = f64>) -> [f64; 2] {
    values.fold([f64::INFINITY, f64::NEG_INFINITY], |[a, b], v| {
        [a.min(v), b.max(v)]
    })
}

/// Size of a ring, right and up.
fn size(ring: &[[f64; 2]]) -> [f64; 2] {
    [0, 1].map(|i| {
        let [a, b] = span(ring.iter().map(|p| p[i]));
        b - a
    })
}

fn one_panel(spot: usize) -> ScatterPicture {
    let mut it = samples::scatter(Metric, spot + 1, false);
    it.panels = it.panels.split_off(spot);
    it
}

#[test]
fn the_opening_and_the_line_inside_it_are_to_one_scale() {
    let svg = scatter::draw(&one_panel(0));
    let doc = Document::parse(&svg).unwrap();
    let ring = |class: &str| parts(paths(groups(&doc, class)[0])[0])[0].clone();
    let (rim, inside) = (size(&ring("opening")), size(&ring("inside")));
    assert!((rim[0] / rim[1] - 0.62 / 0.39).abs() < 1e-4, "{rim:?}");
    // One piece diameter narrower and shorter.
    for i in [0, 1] {
        let narrower_m = (rim[i] - inside[i]) * 0.62 / rim[0];
        assert!((narrower_m - 0.112).abs() < 1e-4, "{narrower_m}");
    }
}

#[test]
fn a_piece_larger_than_the_opening_has_no_line_to_stay_inside() {
    let mut it = one_panel(0);
    it.piece_diameter_m = 0.4;
    let svg = scatter::draw(&it);
    let doc = Document::parse(&svg).unwrap();
    assert!(groups(&doc, "inside").is_empty() && !svg.contains("clears the rim"));
}

#[test]
fn the_line_inside_an_oval_rim_is_everywhere_one_radius_from_it() {
    let mut it = one_panel(0);
    it.opening.depth_m = 0.3;
    it.opening.outline = arcwright_model::target::Outline::Round;
    let svg = scatter::draw(&it);
    let doc = Document::parse(&svg).unwrap();
    let ring = |class: &str| parts(paths(groups(&doc, class)[0])[0])[0].clone();
    let (rim, inside) = (ring("opening"), ring("inside"));
    let px_per_m = size(&rim)[0] / 0.62;
    for p in inside {
        let sides = (0..rim.len()).map(|i| nearest_on(p, rim[i], rim[(i + 1) % rim.len()]));
        let apart_m = span(sides.map(|q| distance(p, q)))[0] / px_per_m;
        // The sides between the drawn corners of the rim cut less than a millimetre off the oval.
        assert!((apart_m - 0.056).abs() < 0.001, "{apart_m}");
    }
}

/// Chi-square with two degrees of freedom: 1.386 at 0.50 and 5.991 at 0.95 (tables of the chi-square
/// distribution, NIST/SEMATECH e-Handbook 1.3.6.7.4; from memory).
#[test]
fn the_ellipses_reach_as_far_as_the_table_of_chi_square_says() {
    let it = one_panel(1);
    let svg = scatter::draw(&it);
    let doc = Document::parse(&svg).unwrap();
    let px_per_m = size(&parts(paths(groups(&doc, "opening")[0])[0])[0])[0] / 0.62;
    let rings = paths(groups(&doc, "ellipses")[0]);
    for (ring, chi_square) in rings.iter().zip([5.991f64, 1.386]) {
        let [across, along] = size(&parts(*ring)[0]).map(|px| px / px_per_m);
        let k = chi_square.sqrt();
        // Drawn with 72 corners, which cut the ends by a tenth of a per cent.
        assert!(
            (along / (2.0 * k * it.panels[0].sd_m[0]) - 1.0).abs() < 2e-3,
            "{along}"
        );
        assert!(
            (across / (2.0 * k * it.panels[0].sd_m[1]) - 1.0).abs() < 2e-3,
            "{across}"
        );
    }
}

fn inside(ring: &[[f64; 2]], p: [f64; 2]) -> bool {
    let mut odd = false;
    for (i, a) in ring.iter().enumerate() {
        let b = ring[(i + 1) % ring.len()];
        if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0] + (p[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0]) {
            odd = !odd;
        }
    }
    odd
}

#[test]
fn the_ellipses_hold_half_and_19_of_20_of_a_correlated_normal_cloud() {
    // The sample draws its crossings from the very distribution that mean, sd and correlation say.
    let svg = scatter::draw(&one_panel(0));
    let doc = Document::parse(&svg).unwrap();
    let cloud: Points = paths(groups(&doc, "cloud")[0])
        .iter()
        .flat_map(|n| parts(*n))
        .map(|mark| mark[0])
        .collect();
    assert!(cloud.len() > 550, "{}", cloud.len());
    let rings = paths(groups(&doc, "ellipses")[0]);
    for (ring, frac) in rings.iter().zip([0.95, 0.5]) {
        let ring = &parts(*ring)[0];
        let held = cloud.iter().filter(|p| inside(ring, **p)).count() as f64 / cloud.len() as f64;
        assert!((held - frac).abs() < 0.02, "{held} of {frac}");
    }
}

#[test]
fn at_most_600_crossings_are_drawn_and_a_rare_fate_keeps_a_mark() {
    let mut it = one_panel(0);
    let one = it.panels[0].crossings[0];
    it.panels[0].crossings = vec![one; 30_000];
    it.panels[0].crossings[77].fate = Outcome::Long;
    let svg = scatter::draw(&it);
    let doc = Document::parse(&svg).unwrap();
    let marks = |n: &Node| parts(*n).len();
    let drawn: Vec<usize> = paths(groups(&doc, "cloud")[0]).iter().map(marks).collect();
    assert_eq!(drawn.len(), 2);
    assert_eq!(drawn[1], 1);
    assert!((599..=601).contains(&(drawn[0] + drawn[1])), "{drawn:?}");
    assert!(
        svg.contains("30000 throws (600 drawn)") && svg.len() < 40_000,
        "{}",
        svg.len()
    );
}

#[test]
fn a_miss_to_the_left_is_drawn_left_and_each_fate_has_its_own_shape() {
    let fates = [
        (Outcome::In, 0.0, 0.0),
        (Outcome::Rim, 0.02, 0.0),
        (Outcome::Short, -0.22, 0.0),
        (Outcome::Long, 0.22, 0.0),
        (Outcome::Left, 0.0, 0.32),
        (Outcome::Right, 0.0, -0.32),
        (Outcome::Under, -0.21, 0.1),
        (Outcome::None, 0.21, 0.1),
    ];
    let mut it = one_panel(2);
    let mut shapes = Vec::new();
    let (mut at, mut classes) = (Vec::new(), Vec::new());
    for (fate, along_m, across_m) in fates {
        it.panels[0].crossings = vec![scatter::ScatterCrossing {
            along_m,
            across_m,
            fate,
        }];
        let svg = scatter::draw(&it);
        let doc = Document::parse(&svg).unwrap();
        let paths = paths(groups(&doc, "cloud")[0]);
        assert_eq!(paths.len(), 1, "{fate:?}");
        let ring: Points = parts(paths[0]).concat();
        let middle = [0, 1].map(|i| 0.5 * span(ring.iter().map(|p| p[i])).iter().sum::<f64>());
        let shape: Vec<String> = ring
            .iter()
            .map(|p| format!("{:.0} {:.0}", p[0] - middle[0], p[1] - middle[1]))
            .collect();
        shapes.push(shape.join(" "));
        classes.push(paths[0].attribute("class").unwrap().to_string());
        at.push(middle);
    }
    assert!(at[4][0] < at[0][0] - 50.0 && at[5][0] > at[0][0] + 50.0, "{at:?}");
    assert!(at[3][1] < at[0][1] - 30.0 && at[2][1] > at[0][1] + 30.0, "{at:?}");
    shapes.sort();
    shapes.dedup();
    assert_eq!(shapes.len(), fates.len(), "two fates share a shape");
}

#[test]
fn what_lies_beyond_an_edge_is_counted_there() {
    let mut it = one_panel(0);
    for (i, c) in it.panels[0].crossings.iter_mut().take(12).enumerate() {
        c.along_m = 0.0;
        c.across_m = if i < 5 { 9.0 } else { -9.0 };
    }
    let svg = scatter::draw(&it);
    let doc = Document::parse(&svg).unwrap();
    let counts: Vec<(f64, &str)> = groups(&doc, "b f3")
        .iter()
        .map(|n| (number(n, "x"), n.text().unwrap()))
        .collect();
    assert_eq!(counts.iter().map(|c| c.1).collect::<Vec<_>>(), ["5", "7"]);
    assert!(counts[0].0 < 30.0 && counts[1].0 > 290.0, "{counts:?}");
    assert!(svg.contains("number beyond the edge"));
    assert!(!scatter::draw(&one_panel(0)).contains("number beyond the edge"));
}

#[test]
fn a_hit_chance_never_reads_certain_when_it_is_not() {
    let mut it = one_panel(0);
    it.panels[0].hit.frac = 0.9998;
    it.panels[0].hit.low_frac = 0.991;
    it.panels[0].hit.high_frac = 1.0;
    it.panels[0].fates = vec![
        (Outcome::In, 0.9998),
        (Outcome::Rim, 0.0002),
        (Outcome::Short, 0.0),
    ];
    let all = texts(&scatter::draw(&it));
    for text in [
        "over 99.9\u{a0}%",
        "99.1 to 100\u{a0}%",
        "Misses: under\u{a0}0.1\u{a0}%\u{a0}rim",
    ] {
        assert!(all.contains(&text.to_string()), "{text}: {all:?}");
    }
}

#[test]
fn words_of_the_scatter_tell_chance_interval_and_misses() {
    let words = scatter::words(&samples::scatter(Metric, 3, false));
    for fact in [
        "crane foot: hit chance 87.4\u{a0}% (86.0 to 88.5\u{a0}%)",
        "11.9\u{a0}%\u{a0}rim, 0.4\u{a0}%\u{a0}short",
        "Along ±91\u{a0}mm, across ±60\u{a0}mm",
        "620 × 390\u{a0}mm",
    ] {
        assert!(words.contains(fact), "{fact}: {words}");
    }
    let words = scatter::words(&samples::scatter(Us, 3, false));
    assert!(words.contains("Along ±3.58\u{a0}in"), "{words}");
}

/// Width of the bars, top to bottom, each along before across.
fn bars(svg: &str, class: &str) -> Vec<f64> {
    let doc = Document::parse(svg).unwrap();
    let all = groups(&doc, class);
    let mut bars: Vec<_> = all
        .iter()
        .map(|n| (number(n, "y"), number(n, "x"), number(n, "width")))
        .collect();
    // The last is the legend's.
    bars.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    bars.pop();
    bars.into_iter().map(|b| b.2).collect()
}

#[test]
fn bars_are_as_long_as_the_shares_and_the_hatched_part_is_what_comes_with_others() {
    let share = |first_frac: f64, total_frac: f64| Share {
        first_frac,
        total_frac,
        ..Share::default()
    };
    let mut it = samples::budget(Metric, 1);
    it.spots[0].causes = [("a", 0.1, 0.1), ("b", 0.5, 0.7), ("c", 0.2, 0.22)]
        .map(|(name, first, total)| BudgetCause {
            name: name.to_string(),
            along: share(first, total),
            across: Share::default(),
        })
        .to_vec();
    let svg = budget::draw(&it);
    let solid = bars(&svg, "f0");
    // The largest first, whatever the order given.
    assert_eq!(solid.len(), 3);
    assert!((solid[0] / solid[2] - 5.0).abs() < 1e-3 && (solid[1] / solid[2] - 2.0).abs() < 1e-3);
    let joint = bars(&svg, "s1 c0");
    assert!((joint[0] / solid[0] - 0.4).abs() < 1e-3, "{joint:?}");
    assert!((joint[1] / solid[1] - 0.1).abs() < 1e-3, "{joint:?}");
    let all = texts(&svg);
    let order: Vec<usize> = ["b", "c", "a"]
        .map(|name| all.iter().position(|t| t == name).unwrap())
        .to_vec();
    assert!(order.is_sorted(), "{all:?}");
    for text in ["50 + 20\u{a0}%", "20 + 2\u{a0}%", "10\u{a0}%"] {
        assert!(all.contains(&text.to_string()), "{text}: {all:?}");
    }
}

#[test]
fn the_order_of_causes_goes_by_the_whole_variance_along_and_across() {
    let mut it = samples::budget(Metric, 1);
    let alone = |frac: f64| Share {
        first_frac: frac,
        total_frac: frac,
        ..Share::default()
    };
    it.spots[0].causes = vec![
        BudgetCause {
            name: "sideways".to_string(),
            along: Share::default(),
            across: alone(0.9),
        },
        BudgetCause {
            name: "forwards".to_string(),
            along: alone(0.4),
            across: Share::default(),
        },
    ];
    let first = |it: &budget::BudgetPicture| {
        let all = texts(&budget::draw(it));
        let place = |name: &str| all.iter().position(|t| t == name).unwrap();
        place("forwards") < place("sideways")
    };
    (it.spots[0].along_sd_m, it.spots[0].across_sd_m) = (0.06, 0.02);
    assert!(first(&it), "0.4·36 is more than 0.9·4");
    (it.spots[0].along_sd_m, it.spots[0].across_sd_m) = (0.02, 0.02);
    assert!(!first(&it), "0.4 is less than 0.9");
}

#[test]
fn small_causes_are_gathered_with_their_sum_and_the_root_of_their_squared_errors() {
    let words = budget::words(&samples::budget(Metric, 1));
    // 0.3 + 0.6 + 0.3 % along; each standard error a little over 1 %: √3 of it is 1.8 %.
    assert!(words.contains("3 others 1.2\u{a0}% (±1.8\u{a0}%)"), "{words}");
    assert!(!words.contains("air density"), "{words}");
    assert!(
        words.contains("wheel speed at the throw 41 by itself and with others 7\u{a0}%"),
        "{words}"
    );
}

#[test]
fn whiskers_reach_one_standard_error_to_both_sides() {
    let mut it = samples::budget(Metric, 1);
    it.spots[0].causes.truncate(1);
    let share = &mut it.spots[0].causes[0].along;
    (share.first_frac, share.total_frac) = (0.5, 0.5);
    share.total_se_frac = 0.1;
    it.spots[0].causes[0].across = Share::default();
    let svg = budget::draw(&it);
    let solid = bars(&svg, "f0")[0];
    let doc = Document::parse(&svg).unwrap();
    let level = groups(&doc, "k")
        .into_iter()
        .find(|n| number(n, "y1") == number(n, "y2"))
        .unwrap();
    let length = number(&level, "x2") - number(&level, "x1");
    assert!((length / solid - 0.4).abs() < 1e-3, "{length} {solid}");
    assert!((0.5 * (number(&level, "x2") + number(&level, "x1")) - 192.0 - solid).abs() < 1e-2);
}

fn one_row(better: Better) -> TradePicture {
    let mut it = samples::trade(Metric);
    it.rows.truncate(1);
    it.values = vec![4e-4, 1e-4, 2e-4];
    it.rows[0].values = vec![4.0, 1.0, 2.0];
    it.rows[0].asked = Some(3.0);
    it.rows[0].better = better;
    it.present = Some(3.5e-4);
    it.recommended = Some(2);
    it
}

#[test]
fn the_side_that_is_worse_than_asked_is_hatched() {
    for (better, above) in [(Lower, true), (Higher, false)] {
        let svg = trade::draw(&one_row(better));
        let doc = Document::parse(&svg).unwrap();
        let hatched = doc
            .descendants()
            .find(|n| n.attribute("fill").is_some_and(|f| f.contains("hatch")))
            .unwrap();
        let limit = number(&groups(&doc, "s c1 d1")[0], "y1");
        let [top, foot] = span(parts(hatched)[0].iter().map(|p| p[1]));
        let (edge, far) = if above { (foot, top) } else { (top, foot) };
        assert!((edge - limit).abs() < 1e-6, "{better:?}: {top} {foot} {limit}");
        assert!((edge - far).abs() > 10.0 && (far < edge) == above, "{better:?}");
    }
}

#[test]
fn present_is_read_between_the_values_worked_out_and_the_values_may_come_in_any_order() {
    let svg = trade::draw(&one_row(Lower));
    let all = texts(&svg);
    let fact = "now 3.5, recommended 2, at most 3".to_string();
    assert!(all.contains(&fact), "{all:?}");
    assert!(all.contains(&"now: 3.5\u{a0}kg\u{a0}cm²".to_string()), "{all:?}");
    let doc = Document::parse(&svg).unwrap();
    let line = &parts(groups(&doc, "s c2")[0])[0];
    assert!(line.windows(2).all(|w| w[0][0] < w[1][0]), "{line:?}");
    // Outside the values nothing is known.
    let mut it = one_row(Lower);
    it.present = Some(9e-4);
    assert!(texts(&trade::draw(&it)).contains(&"recommended 2, at most 3".to_string()));
}

#[test]
fn the_marks_stand_at_their_values() {
    let svg = trade::draw(&one_row(Lower));
    let doc = Document::parse(&svg).unwrap();
    let course = &parts(groups(&doc, "s c2")[0])[0];
    let (first, last) = (course[0], course[course.len() - 1]);
    // The course runs from 1 to 4; the marks are at 3.5 (now) and 2 (recommended).
    for (class, share) in [("k d2", 2.5 / 3.0), ("s c0", 1.0 / 3.0)] {
        let mark = parts(groups(&doc, class)[0])[0].pop().unwrap();
        let wanted = first[0] + share * (last[0] - first[0]);
        assert!((mark[0] - wanted).abs() < 0.01, "{class}: {} {wanted}", mark[0]);
    }
}

#[test]
fn leaving_the_knob_where_it_is_takes_one_mark() {
    let mut it = one_row(Lower);
    it.present = Some(2e-4);
    it.labels = vec![String::new(), String::new(), "the old disc".to_string()];
    let all = texts(&trade::draw(&it));
    assert!(
        all.contains(&"now and recommended: the old disc".to_string()),
        "{all:?}"
    );
    assert!(
        all.contains(&"now and recommended 2, at most 3".to_string()),
        "{all:?}"
    );
}

#[test]
fn the_reason_stands_in_full_under_the_picture() {
    let it = samples::trade(Metric);
    let all = texts(&trade::draw(&it)).join(" ");
    assert!(all.ends_with(&it.why), "{all}");
    assert!(trade::words(&it).ends_with(&it.why));
}

#[test]
fn a_temperature_is_shown_on_its_own_scale() {
    let mut it = one_row(Lower);
    it.rows[0].measure = Measure::of(Dimension::Temperature);
    it.rows[0].values = vec![373.15, 293.15, 313.15];
    it.rows[0].asked = Some(363.15);
    let svg = trade::draw(&it);
    let all = texts(&svg);
    // 0 °C is 273.15 K (NIST SP 811).
    let fact = "now 85, recommended 40, at most 90".to_string();
    assert!(all.contains(&fact), "{all:?}");
    // The mark of 100 °C stands as high as the point of 373.15 K.
    let doc = Document::parse(&svg).unwrap();
    let mark = doc.descendants().find(|n| n.text() == Some("100")).unwrap();
    let course = parts(groups(&doc, "s c2")[0]).remove(0);
    let (level, highest) = (number(&mark, "y") - 4.5, span(course.iter().map(|p| p[1]))[0]);
    assert!((level - highest).abs() < 0.01, "{level} {highest}");
}

fn small_front(x: Better, y: Better) -> FrontPicture {
    let mut it = samples::front(Metric, 0);
    (it.x.better, it.y.better) = (x, y);
    // Along a front the goals trade: one gets better as the other gets worse.
    let rising = (x == Lower) == (y == Higher);
    it.front = [(1.0, 0.6), (1.5, 0.7), (2.5, 0.8)]
        .map(|(a, b)| FrontPoint {
            at: [a, if rising { b } else { 1.4 - b }],
            label: format!("design {a}"),
        })
        .to_vec();
    it.front.reverse();
    it.present = None;
    it.tried.clear();
    it
}

#[test]
fn the_front_steps_over_what_both_neighbours_reach_and_no_further() {
    for x in [Lower, Higher] {
        for y in [Lower, Higher] {
            let svg = front::draw(&small_front(x, y));
            let doc = Document::parse(&svg).unwrap();
            let line = &parts(paths(groups(&doc, "edge")[0])[0])[0];
            assert_eq!(line.len(), 5, "{x:?} {y:?}");
            let steps = line.windows(2);
            assert!(
                steps
                    .into_iter()
                    .all(|w| w[0][0] == w[1][0] || w[0][1] == w[1][1])
            );
            for i in [1, 3] {
                let (before, corner, after) = (line[i - 1], line[i], line[i + 1]);
                let pick = |better: Better, a: f64, b: f64, down: bool| match (better == Lower) == down {
                    true => a.min(b),
                    false => a.max(b),
                };
                // The worse of both: right for lower-is-better, and up the page is a smaller y.
                assert_eq!(corner[0], pick(x, before[0], after[0], false), "{x:?} {y:?}");
                assert_eq!(corner[1], pick(y, before[1], after[1], true), "{x:?} {y:?}");
            }
        }
    }
}

#[test]
fn points_of_the_front_are_numbered_from_left_to_right_and_listed() {
    let mut it = small_front(Lower, Higher);
    it.chosen = Some(0);
    let words = front::words(&it);
    for fact in [
        "1: design 1, 1\u{a0}s and 60\u{a0}%.",
        "3: design 2.5, 2.5\u{a0}s and 80\u{a0}%, chosen.",
    ] {
        assert!(words.contains(fact), "{fact}: {words}");
    }
    let all = texts(&front::draw(&it));
    for text in ["design 1", "1.0", "60", "3"] {
        assert!(all.contains(&text.to_string()), "{text}: {all:?}");
    }
}

#[test]
fn a_long_front_numbers_its_ends_and_the_chosen_one() {
    for chosen in [0, 1, 17, 38, 39] {
        let mut it = samples::front(Metric, 40);
        it.chosen = Some(chosen);
        let all = texts(&front::draw(&it));
        for i in [0, chosen, 39] {
            assert!(all.contains(&it.front[i].label), "{chosen}: {i} is missing");
        }
        assert!(all.contains(&"28 more on the front are not numbered".to_string()));
    }
}

#[test]
fn far_tries_do_not_squeeze_the_front_and_thousands_stay_a_small_file() {
    let mut it = samples::front(Metric, 7);
    let width = |svg: &str| {
        let doc = Document::parse(svg).unwrap();
        size(&parts(paths(groups(&doc, "edge")[0])[0])[0])[0]
    };
    let before = width(&front::draw(&it));
    it.tried.extend((0..20_000).map(|i| [3.0 + f64::from(i), 0.5]));
    let svg = front::draw(&it);
    assert!(width(&svg) > 0.6 * before, "{} {before}", width(&svg));
    assert!(svg.contains("20700 designs tried"));
    assert!(svg.len() < 60_000, "{}", svg.len());
}
