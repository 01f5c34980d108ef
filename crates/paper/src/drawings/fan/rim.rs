//! Below the flights: the rim enlarged, and the table.

use super::{
    Corners, Fan, Flight, RIGHT_PX, ROW_PX, draw_flights, draw_target, flight_lines, radius_m, series,
};
use crate::geometry::{Fit, Point, Rect, direction, distance, moved, nearest_on_line, usable, usable_point};
use crate::marks::{TEXT_PX, bold_width_px, dimension, label_width_px};
use crate::place::{Placer, fitted};
use crate::style::line_class;
use crate::svg::{Anchor, Svg};
use crate::units::{Scale, Units};

/// Entry angles beside the flights, at most.
const MOST_ENTRY_LABELS: usize = 4;

/// The opening enlarged, with the piece drawn to scale at every crossing.
pub(super) fn draw_detail(svg: &mut Svg, rect: Rect, input: &Fan, target: &Corners, units: &Units) {
    let piece = 2.0 * radius_m(0.5 * input.piece_diameter_m);
    let reach = piece.max(0.2 * distance(target.near, target.far)).max(0.01);
    let x = (
        target.near[0].min(target.far[0]) - 1.1 * reach,
        target.near[0].max(target.far[0]) + 0.35 * reach,
    );
    let z = (
        target.near[1] - 1.05 * reach,
        target.far[1].max(target.near[1]) + 1.2 * reach,
    );
    svg.text("b", [rect.x_px, rect.y_px], Anchor::Start, "At the rim, enlarged");
    let rect = Rect {
        y_px: rect.y_px + 10.0,
        height_px: rect.height_px - 10.0,
        ..rect
    };
    let mut fit = Fit::new(x, z, rect);
    // Spare height goes above the opening, where the flights come from.
    fit.origin_px[1] = rect.bottom_px() - (fit.corner_m[1] - z.0) * fit.px_per_m;
    svg.open_clipped(rect);
    draw_target(svg, &fit, target, 4.0, false);
    draw_flights(svg, &fit, input);
    for (i, flight) in input.flights.iter().enumerate() {
        if let Some(c) = flight.crossing.filter(|c| usable_point(&c.point_m)) {
            svg.circle(
                &format!("s1 c{}", series(i)),
                fit.px(c.point_m),
                0.5 * piece * fit.px_per_m,
            );
        }
    }
    let mut placer = Placer::new(rect.grown(-3.0));
    draw_clearance(svg, &fit, input, target, units, &mut placer);
    svg.close();
    for flight in &input.flights {
        for line in flight_lines(&fit, flight) {
            placer.avoid(&line);
        }
    }
    placer.avoid(&[fit.px(target.near), fit.px(target.far), fit.px(target.wall_top)]);
    for c in input
        .flights
        .iter()
        .filter_map(|f| f.crossing)
        .filter(|c| usable_point(&c.point_m))
    {
        placer.avoid(&ring(fit.px(c.point_m), 0.5 * piece * fit.px_per_m));
    }
    // More would not find room; the table has them all.
    let labelled = if input.flights.len() > MOST_ENTRY_LABELS {
        &[]
    } else {
        input.flights.as_slice()
    };
    for (i, flight) in labelled.iter().enumerate() {
        let Some(c) = flight
            .crossing
            .filter(|c| usable_point(&c.point_m) && usable(c.entry_rad) && usable(c.below_level_rad))
        else {
            continue;
        };
        let text = units.angle.show(whole_degrees(c.entry_rad));
        let (width, height) = (bold_width_px(&text), 1.1 * TEXT_PX);
        let at = fit.px(c.point_m);
        let back = [-c.below_level_rad.cos(), -c.below_level_rad.sin()];
        let candidates = (3..16).rev().flat_map(|step| {
            let p = moved(at, back, 12.0 * f64::from(step));
            [
                [-width - 5.0, -height],
                [5.0, -height],
                [-width - 5.0, 0.0],
                [5.0, 0.0],
            ]
            .map(|d| Rect {
                x_px: p[0] + d[0],
                y_px: p[1] + d[1],
                width_px: width,
                height_px: height,
            })
        });
        if let Some(place) = placer.place(candidates).filter(|p| p.free) {
            let at = [place.rect.x_px, place.rect.bottom_px() - 3.0];
            svg.text(&format!("halo b f{}", series(i)), at, Anchor::Start, &text);
        }
    }
    svg.rect("q", rect);
}

/// A circle as a line, for labels to keep off.
fn ring(centre: Point, radius_px: f64) -> Vec<Point> {
    let at = |i: u32| (f64::from(i) * std::f64::consts::PI / 8.0).sin_cos();
    (0..=16)
        .map(|i| moved(centre, [at(i).1, at(i).0], radius_px))
        .collect()
}

/// The least clearance: the piece where it passes the rim, and the distance between them.
fn draw_clearance(
    svg: &mut Svg,
    fit: &Fit,
    input: &Fan,
    target: &Corners,
    units: &Units,
    placer: &mut Placer,
) {
    let tight = input
        .flights
        .iter()
        .enumerate()
        .filter_map(|(i, f)| Some((i, f, f.crossing?.clearance_m)));
    let Some((i, flight, clearance_m)) = tight.filter(|t| usable(t.2)).min_by(|a, b| a.2.total_cmp(&b.2))
    else {
        return;
    };
    let line: Vec<Point> = flight.line_m.iter().copied().filter(usable_point).collect();
    let rims = [target.near, target.far];
    let pass = rims
        .iter()
        .filter_map(|rim| Some((*rim, nearest_on_line(*rim, &line)?)));
    let Some((rim, centre)) = pass.min_by(|a, b| distance(a.0, a.1).total_cmp(&distance(b.0, b.1))) else {
        return;
    };
    let (rim, centre) = (fit.px(rim), fit.px(centre));
    let r = radius_m(0.5 * input.piece_diameter_m) * fit.px_per_m;
    svg.circle(&format!("w{0} s c{0}", series(i)), centre, r);
    let surface = moved(centre, direction(centre, rim), r);
    if distance(centre, rim) > r {
        dimension(svg, "k", "kf", rim, surface, 8.0);
    }
    let text = format!("clear {}", units.length.show(clearance_m));
    let (width, height) = (label_width_px(&text), 1.1 * TEXT_PX);
    placer.avoid(&ring(centre, r));
    let below = rim[1] + r + 3.0;
    let candidates = [
        [rim[0] - 0.3 * width, below],
        [rim[0] - width - 8.0, rim[1] + 6.0],
        [rim[0] + 8.0, rim[1] + 6.0],
        [rim[0] - width - 8.0, rim[1] - height - 4.0],
        [rim[0] + 8.0, rim[1] - height - 4.0],
    ]
    .map(|p| Rect {
        x_px: p[0],
        y_px: p[1],
        width_px: width,
        height_px: height,
    });
    if let Some(place) = placer.place(candidates).filter(|p| p.free) {
        if distance(rim, place.rect.nearest(rim)) > 12.0 {
            svg.line("q", rim, place.rect.nearest(rim));
        }
        svg.text(
            "halo",
            [place.rect.x_px, place.rect.bottom_px() - 3.0],
            Anchor::Start,
            &text,
        );
    }
}

/// A row per flight: the same facts as the picture, for reading.
pub(super) fn draw_table(svg: &mut Svg, top: f64, input: &Fan, units: &Units) {
    const NAME_PX: f64 = 302.0;
    const ENDS_PX: [f64; 4] = [428.0, 482.0, 528.0, 576.0];
    const LANDS_PX: f64 = 586.0;
    let heads = ["from", "speed", "entry", "clear"];
    let symbols = [
        units.distance.symbol,
        units.turning.symbol,
        units.angle.symbol,
        units.length.symbol,
    ];
    svg.text("b sm", [NAME_PX, top], Anchor::Start, "spot");
    svg.text("b sm", [LANDS_PX, top], Anchor::Start, "lands");
    for ((head, symbol), x) in heads.iter().zip(symbols).zip(ENDS_PX) {
        svg.text("b sm", [x, top], Anchor::End, head);
        svg.text("m sm", [x, top + 16.0], Anchor::End, symbol);
    }
    svg.line("q", [236.0, top + 24.0], [RIGHT_PX, top + 24.0]);
    let column = |scale: &Scale, value: fn(&Flight) -> Option<f64>| {
        scale.column(&input.flights.iter().map(value).collect::<Vec<_>>())
    };
    let columns = [
        column(&units.distance, |f| Some(f.distance_m)),
        column(&units.turning, |f| f.setpoint_radps),
        // Whole degrees: nobody can see more of a flight.
        column(&units.angle, |f| f.crossing.map(|c| whole_degrees(c.entry_rad))),
        column(&units.length, |f| f.crossing.map(|c| c.clearance_m)),
    ];
    for (i, f) in input.flights.iter().enumerate() {
        let y = top + 44.0 + ROW_PX * i as f64;
        svg.text("", [236.0, y], Anchor::Start, &(i + 1).to_string());
        svg.line(&line_class(i), [256.0, y - 5.0], [296.0, y - 5.0]);
        svg.text(
            "",
            [NAME_PX, y],
            Anchor::Start,
            &fitted(&f.spot, TEXT_PX, ENDS_PX[0] - NAME_PX - 44.0),
        );
        for (column, x) in columns.iter().zip(ENDS_PX) {
            let cell = column.get(i).map_or("", String::as_str);
            svg.text("", [x, y], Anchor::End, &fitted(cell, TEXT_PX, 50.0));
        }
        svg.text(
            "",
            [LANDS_PX, y],
            Anchor::Start,
            &fitted(&f.outcome, TEXT_PX, RIGHT_PX + 8.0 - LANDS_PX),
        );
    }
}

fn whole_degrees(angle_rad: f64) -> f64 {
    angle_rad.to_degrees().round().to_radians()
}
