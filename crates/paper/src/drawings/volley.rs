//! Wheel speed, battery voltage and current through spin-up and a volley, on one time axis.

use arcwright_model::launcher::VolleySample;
use arcwright_model::project::UnitSystem;

use super::{WIDTH_PX, counted};
use crate::axis::{Axis, Strip};
use crate::geometry::{Rect, span, usable};
use crate::marks::{TEXT_PX, badge, bold_width_px, dimension, heading, label_width_px};
use crate::place::{Placer, along_level, spread};
use crate::svg::{Anchor, Svg};
use crate::units::{Scale, Units};

/// What the picture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct VolleyChart {
    /// Units shown.
    pub units: UnitSystem,
    /// The course of the volley.
    pub samples: Vec<VolleySample>,
    /// Wheel speed asked for.
    pub setpoint_radps: f64,
    /// Speed counts as ready within this share of the setpoint.
    pub ready_frac: f64,
    /// When the wheel was first ready; `None` if never.
    pub ready_at_s: Option<f64>,
    /// The throws, in order.
    pub throws: Vec<Throw>,
    /// Voltage at which electronics reset.
    pub brown_out_v: f64,
    /// Fuse of the launcher's circuit.
    pub fuse_a: Option<f64>,
}

/// One throw of the volley.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Throw {
    /// When the piece met the wheel.
    pub time_s: f64,
    /// Wheel speed just before.
    pub before_radps: f64,
    /// Lowest wheel speed that followed.
    pub low_radps: f64,
    /// From the throw until the wheel was ready again; `None` if it never was.
    pub recovery_s: Option<f64>,
}

const LEFT_PX: f64 = 72.0;
const PLOT_PX: f64 = WIDTH_PX - LEFT_PX - 16.0;
/// Width that the number of a throw needs.
const BADGE_PX: f64 = 21.0;
const TITLE: &str = "Wheel speed through a volley";

/// Draws the picture.
pub fn draw(input: &VolleyChart) -> String {
    let units = Units::of(input.units);
    let time = span(
        input
            .samples
            .iter()
            .map(|s| s.time_s)
            .chain(input.throws.iter().map(|t| t.time_s)),
    );
    let time = Axis::new(time.unwrap_or((0.0, 1.0)), (false, false), 7, &units.time);
    let strip = |y_px: f64, height_px: f64, y: Axis| Strip {
        rect: Rect {
            x_px: LEFT_PX,
            y_px,
            width_px: PLOT_PX,
            height_px,
        },
        x: time.clone(),
        y,
    };
    let mut svg = Svg::new("volley", WIDTH_PX, 682.0);
    heading(&mut svg, TITLE, &second_line(input, &units));

    let whole = strip(92.0, 96.0, whole_speed(input, &units));
    let near = strip(212.0, 174.0, near_speed(input, &units));
    let volts = strip(410.0, 96.0, voltage(input, &units));
    let amps = strip(530.0, 96.0, current(input, &units));
    for s in [&whole, &near] {
        draw_band(&mut svg, s, input);
    }
    let turning = format!("speed ({})", units.turning.symbol);
    whole.frame(&mut svg, &turning, None);
    near.frame(
        &mut svg,
        &format!("near setpoint ({})", units.turning.symbol),
        None,
    );
    volts.frame(&mut svg, &format!("battery ({})", units.voltage.symbol), None);
    amps.frame(
        &mut svg,
        &format!("battery ({})", units.current.symbol),
        Some("time (s)"),
    );
    draw_throws(&mut svg, input, &[&whole, &near, &volts, &amps]);

    let speed = |s: &VolleySample| [s.time_s, s.wheel_radps];
    let volt = |s: &VolleySample| [s.time_s, s.battery_v];
    let ampere = |s: &VolleySample| [s.time_s, s.battery_a];
    let courses = [
        whole.lines(input.samples.iter().map(speed)),
        near.lines(input.samples.iter().map(speed)),
        volts.lines(input.samples.iter().map(volt)),
        amps.lines(input.samples.iter().map(ampere)),
    ];
    let mut placers = Vec::new();
    for ((strip, lines), series) in [&whole, &near, &volts, &amps]
        .iter()
        .zip(&courses)
        .zip([0, 0, 2, 3])
    {
        strip.curve(&mut svg, &format!("s c{series}"), &format!("f{series}"), lines);
        let mut placer = Placer::new(strip.rect.grown(-1.0));
        for line in lines {
            placer.avoid(line);
        }
        placers.push(placer);
    }
    let mut limits = vec![(&volts, input.brown_out_v, "brown-out", &units.voltage, 2)];
    if let Some(fuse_a) = input.fuse_a {
        limits.push((&amps, fuse_a, "fuse", &units.current, 3));
    }
    for (strip, value, name, scale, placer) in limits {
        if let Some(placer) = placers.get_mut(placer) {
            draw_limit(
                &mut svg,
                strip,
                value,
                &format!("{name} {}", scale.show(value)),
                placer,
            );
        }
    }
    if let [first, second, ..] = placers.as_mut_slice() {
        annotate_ready(&mut svg, &whole, input, &units, first);
        annotate_dip(&mut svg, &near, input, &units, second);
    }
    svg.finish(TITLE, &words(input))
}

/// The picture in words.
pub fn words(input: &VolleyChart) -> String {
    let units = Units::of(input.units);
    let ready = match input.ready_at_s {
        Some(t) => format!(
            "is ready at {} after {}",
            units.turning.show(input.setpoint_radps),
            units.time.show(t)
        ),
        None => format!("never gets ready at {}", units.turning.show(input.setpoint_radps)),
    };
    let dip = match deepest(input) {
        Some((number, throw)) => format!(
            " Of {}, number {number} takes the most speed, {}, and {}.",
            counted(input.throws.len(), "throw", "throws"),
            units.turning.show(throw.before_radps - throw.low_radps),
            match throw.recovery_s {
                Some(t) => format!("the wheel is ready again {} later", units.time.show(t)),
                None => "the wheel does not get ready again".to_string(),
            }
        ),
        None => " No piece is thrown.".to_string(),
    };
    let extreme = |values: Vec<f64>, low: bool| span(values).map(|r| if low { r.0 } else { r.1 });
    let volts = extreme(input.samples.iter().map(|s| s.battery_v).collect(), true);
    let amps = extreme(input.samples.iter().map(|s| s.battery_a).collect(), false);
    let battery = match (volts, amps) {
        (Some(v), Some(a)) => format!(
            " The battery falls to {} and gives {} at most.",
            units.voltage.show(v),
            units.current.show(a)
        ),
        _ => String::new(),
    };
    format!("The wheel {ready}.{dip}{battery}")
}

fn second_line(input: &VolleyChart, units: &Units) -> String {
    format!(
        "{} at setpoint {}, ready within ±{}",
        counted(input.throws.len(), "throw", "throws"),
        units.turning.show(input.setpoint_radps),
        units.share.show(input.ready_frac)
    )
}

fn speeds(input: &VolleyChart) -> impl Iterator<Item = f64> + '_ {
    input.samples.iter().map(|s| s.wheel_radps)
}

fn whole_speed(input: &VolleyChart, units: &Units) -> Axis {
    let range = span(speeds(input).chain([0.0, 1.12 * input.setpoint_radps]));
    Axis::new(range.unwrap_or((0.0, 1.0)), (true, false), 3, &units.turning)
}

/// The range of speeds from the first moment near the setpoint on.
fn near_speed(input: &VolleyChart, units: &Units) -> Axis {
    let setpoint = if usable(input.setpoint_radps) {
        input.setpoint_radps
    } else {
        0.0
    };
    let ready = if usable(input.ready_frac) {
        input.ready_frac.abs().min(1.0)
    } else {
        0.0
    };
    let edge = setpoint * (1.0 - ready);
    let from_s = input.ready_at_s.filter(|t| t.is_finite());
    let from_s = from_s
        .or(input.throws.first().map(|t| t.time_s))
        .unwrap_or(f64::INFINITY);
    let volley = input
        .samples
        .iter()
        .filter(|s| s.time_s >= from_s)
        .map(|s| s.wheel_radps);
    let marked = input.throws.iter().flat_map(|t| [t.before_radps, t.low_radps]);
    let (low, high) =
        span(volley.chain(marked).chain([edge, setpoint * (1.0 + ready)])).unwrap_or((edge, setpoint));
    let pad = 0.16 * (high - low).max(0.01 * setpoint.abs());
    Axis::new((low - 1.7 * pad, high + pad), (false, false), 5, &units.turning)
}

fn voltage(input: &VolleyChart, units: &Units) -> Axis {
    let limit = Some(input.brown_out_v).filter(|v| usable(*v));
    let (low, high) = span(input.samples.iter().map(|s| s.battery_v).chain(limit)).unwrap_or((0.0, 1.0));
    let pad = 0.12 * (high - low);
    Axis::new((low - pad, high + pad), (false, false), 4, &units.voltage)
}

fn current(input: &VolleyChart, units: &Units) -> Axis {
    let range = span(
        input
            .samples
            .iter()
            .map(|s| s.battery_a)
            .chain(input.fuse_a)
            .chain([0.0]),
    );
    let (low, high) = range.unwrap_or((0.0, 1.0));
    Axis::new(
        (low, high + 0.12 * (high - low)),
        (low < 0.0, false),
        4,
        &units.current,
    )
}

fn draw_band(svg: &mut Svg, strip: &Strip, input: &VolleyChart) {
    if !usable(input.setpoint_radps) || !usable(input.ready_frac) {
        return;
    }
    let at = |k: f64| strip.y_px(input.setpoint_radps * (1.0 + k * input.ready_frac.abs()));
    let (top, foot) = (at(1.0), at(-1.0));
    svg.rect(
        "w2",
        Rect {
            y_px: top.min(foot),
            height_px: (foot - top).abs(),
            ..strip.rect
        },
    );
    let right = strip.rect.right_px();
    svg.line("k qd", [strip.rect.x_px, at(0.0)], [right, at(0.0)]);
}

fn draw_throws(svg: &mut Svg, input: &VolleyChart, strips: &[&Strip]) {
    let Some(first) = strips.first() else { return };
    let throws: Vec<(usize, &Throw)> = input
        .throws
        .iter()
        .enumerate()
        .filter(|(_, t)| usable(t.time_s))
        .collect();
    let mut at: Vec<(usize, f64)> = throws.iter().map(|(i, t)| (*i, first.x_px(t.time_s))).collect();
    at.sort_by(|a, b| a.1.total_cmp(&b.1));
    let wanted: Vec<f64> = at.iter().map(|a| a.1).collect();
    // A long volley shows the numbers that have room: every second, third ...
    let across = at.last().map_or(0.0, |a| a.1) - at.first().map_or(0.0, |a| a.1);
    let every = (at.len() as f64 * BADGE_PX / (across + BADGE_PX))
        .ceil()
        .clamp(1.0, 1e3) as usize;
    let sizes = vec![BADGE_PX / every as f64; at.len()];
    let right = first.rect.right_px() + 12.0;
    let top = first.rect.y_px;
    for ((i, x), centre) in at
        .iter()
        .zip(spread(&wanted, &sizes, first.rect.x_px - 10.0, right))
    {
        for strip in strips {
            svg.line("q qd", [*x, strip.rect.y_px], [*x, strip.rect.bottom_px()]);
        }
        if i % every == 0 {
            svg.line("q", [centre, top - 6.0], [*x, top]);
            badge(svg, "f1", [centre, top - 15.0], &(i + 1).to_string());
        }
    }
}

fn draw_limit(svg: &mut Svg, strip: &Strip, value: f64, label: &str, placer: &mut Placer) {
    if !usable(value) {
        return;
    }
    let y = strip.px([strip.x.low, value])[1];
    let r = &strip.rect;
    if y < r.y_px - 1.0 || y > r.bottom_px() + 1.0 {
        return;
    }
    svg.line("s c1 d1", [r.x_px, y], [r.right_px(), y]);
    let (width, height) = (bold_width_px(label), 1.15 * TEXT_PX);
    let candidates = along_level(r, y, [width, height], 3.0);
    if let Some(place) = placer.place(candidates).filter(|p| p.free) {
        svg.text(
            "halo b f1",
            [place.rect.x_px, place.rect.bottom_px() - 3.5],
            Anchor::Start,
            label,
        );
    }
}

fn annotate_ready(svg: &mut Svg, strip: &Strip, input: &VolleyChart, units: &Units, placer: &mut Placer) {
    let Some(ready_s) = input.ready_at_s.filter(|t| usable(*t)) else {
        return;
    };
    let at = [strip.x_px(ready_s), strip.y_px(input.setpoint_radps)];
    let text = format!("ready after {}", units.time.show(ready_s));
    let (width, height) = (label_width_px(&text), 1.2 * TEXT_PX);
    svg.circle("pf s c2", at, 4.5);
    let candidates = [
        [14.0, 26.0],
        [24.0, 40.0],
        [-width - 14.0, 26.0],
        [14.0, 54.0],
        [-width - 14.0, 54.0],
    ];
    let candidates = candidates.map(|d| Rect {
        x_px: at[0] + d[0],
        y_px: at[1] + d[1] - 0.5 * height,
        width_px: width,
        height_px: height,
    });
    if let Some(place) = placer.place(candidates).filter(|p| p.free) {
        let r = place.rect;
        let foot = if r.x_px > at[0] {
            r.x_px + 8.0
        } else {
            r.right_px() - 8.0
        };
        svg.line("q", [at[0], at[1] + 5.0], [foot, r.y_px + 3.0]);
        svg.text("halo", [r.x_px, r.bottom_px() - 4.0], Anchor::Start, &text);
    }
}

/// Number (from 1) and data of the throw that takes the most speed.
fn deepest(input: &VolleyChart) -> Option<(usize, &Throw)> {
    let dip = |t: &Throw| t.before_radps - t.low_radps;
    let throws = input.throws.iter().enumerate().map(|(i, t)| (i + 1, t));
    throws
        .filter(|(_, t)| usable(dip(t)))
        .max_by(|a, b| dip(a.1).total_cmp(&dip(b.1)))
}

fn annotate_dip(svg: &mut Svg, strip: &Strip, input: &VolleyChart, units: &Units, placer: &mut Placer) {
    let height = 1.2 * TEXT_PX;
    let setpoint = format!("setpoint {}", units.turning.show(input.setpoint_radps));
    let setpoint_y = strip.y_px(input.setpoint_radps);
    let width = label_width_px(&setpoint);
    let candidates = [setpoint_y - height - 4.0, setpoint_y + 4.0].map(|y_px| Rect {
        x_px: strip.rect.x_px + 6.0,
        y_px,
        width_px: width,
        height_px: height,
    });
    if let Some(place) = placer
        .place(candidates)
        .filter(|p| p.free && usable(input.setpoint_radps))
    {
        svg.text(
            "halo",
            [place.rect.x_px, place.rect.bottom_px() - 4.0],
            Anchor::Start,
            &setpoint,
        );
    }
    let Some((_, throw)) = deepest(input).filter(|(_, t)| usable(t.time_s)) else {
        return;
    };
    // The moment of the lowest speed, from the samples; the throw's own time if there are none.
    let end_s = throw.time_s + throw.recovery_s.filter(|t| usable(*t)).unwrap_or(f64::INFINITY);
    let during = input
        .samples
        .iter()
        .filter(|s| s.time_s >= throw.time_s && s.time_s <= end_s);
    let lowest = during
        .filter(|s| usable(s.wheel_radps))
        .min_by(|a, b| a.wheel_radps.total_cmp(&b.wheel_radps));
    let x = strip.x_px(lowest.map_or(throw.time_s, |s| s.time_s));
    let (top, foot) = (strip.y_px(throw.before_radps), strip.y_px(throw.low_radps));
    let dip_radps = throw.before_radps - throw.low_radps;
    if foot - top > 4.0 {
        dimension(svg, "k", "kf", [x, top], [x, foot], 8.0);
    }
    let mut text = format!("dip {}", units.turning.show(dip_radps));
    if throw.before_radps > 0.0 {
        text.push_str(&format!(
            " ({})",
            round_share(&units.share, dip_radps / throw.before_radps)
        ));
    }
    place_beside(svg, placer, &text, x, 0.5 * (top + foot), strip);
    if let Some(recovery_s) = throw.recovery_s.filter(|t| usable(*t) && *t >= 0.0) {
        let (from, to) = (strip.x_px(throw.time_s), strip.x_px(throw.time_s + recovery_s));
        let y = (foot + 13.0).min(strip.rect.bottom_px() - 6.0);
        for at in [from, to] {
            svg.line("k", [at, y - 5.0], [at, y + 5.0]);
        }
        svg.line("k", [from, y], [to, y]);
        let text = format!("ready again {} later", units.time.show(recovery_s));
        place_beside(svg, placer, &text, to, y, strip);
    }
}

fn round_share(scale: &Scale, share: f64) -> String {
    scale.show((share * 1000.0).round() / 1000.0)
}

/// A text right of a point or, where there is no room, left of it or lower.
fn place_beside(svg: &mut Svg, placer: &mut Placer, text: &str, x: f64, y: f64, strip: &Strip) {
    let (width, height) = (label_width_px(text), 1.2 * TEXT_PX);
    let lower = strip.rect.bottom_px() - height - 2.0;
    let candidates = [0.0, 10.0, 20.0, -12.0, 32.0].into_iter().flat_map(|down| {
        [x + 8.0, x - width - 8.0].map(|x_px| Rect {
            x_px,
            y_px: (y - 0.5 * height + down).min(lower),
            width_px: width,
            height_px: height,
        })
    });
    if let Some(place) = placer.place(candidates).filter(|p| p.free) {
        svg.text(
            "halo",
            [place.rect.x_px, place.rect.bottom_px() - 4.0],
            Anchor::Start,
            text,
        );
    }
}
