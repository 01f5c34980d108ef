//! A project in which nothing has been written yet.
//!
//! What must be written is NaN here. A NaN makes no check fire and never leaves [`super::lower`]:
//! a project with one missing line is refused.

use std::collections::BTreeMap;

use super::{
    ColourOrder, Cut, Feed, GuideSheet, Holes, KnobTravel, Knobs, Limits, Machine, Moving, Piece, PieceKind,
    Project, SheetMaterial, Site, Spot, ThrowSpread, UnitSystem, Wheel, rest::Rest,
};
use crate::air::standard_atmosphere;
use crate::feed::hopper::{Arrival, BandSpec, Hopper, Loading, RollerSpec, StirrerSpec};
use crate::feed::plate::Plates;
use crate::flight::{Drag, DragLaw, Lift, SpinDecay};
use crate::launcher::{
    Battery, Controller, Drive, GuideError, GuideShape, Layout, MotorSheet, PairShape, PartShape, Setting,
    TurningPart,
};
use crate::target::{Outline, Target};

const NOT_YET: f64 = f64::NAN;

/// Denominator of the lift law C_L = s S/(0.4 + 2.32 S), its constant [cross-2011] (from memory).
const LIFT_A: f64 = 0.4;
/// Its slope, same source.
const LIFT_B: f64 = 2.32;

/// What decides the shape of a blank project.
#[derive(Clone, Copy, Debug, Default)]
pub struct Outfit {
    /// Spots.
    pub spots: usize,
    /// Turning parts.
    pub parts: usize,
    /// Is a guide sheet described?
    pub sheet: bool,
    /// Knobs that exist: slide, tilt, reach.
    pub knobs: [bool; 3],
    /// The tables of the rest of the machine and of the season that are there.
    pub rest: Rest,
    /// Is a feed described?
    pub feed: bool,
    /// Its parts that exist: roller, stirrer, bands.
    pub feed_parts: [bool; 3],
    /// `[[feed.plate]]`
    pub plates: usize,
}

fn guide() -> Layout {
    Layout::Guide(GuideShape {
        gap_m: NOT_YET,
        entry_relief_m: NOT_YET,
        wrap_rad: NOT_YET,
        end_angle_rad: NOT_YET,
        friction_coeff: NOT_YET,
        hood_bend_m: NOT_YET,
    })
}

/// A blank layout by its word.
pub fn layout(word: &str) -> Option<Layout> {
    match word {
        "guide" => Some(guide()),
        "pair" => Some(Layout::Pair(PairShape {
            gap_m: NOT_YET,
            direction_rad: NOT_YET,
            upper_speed_ratio: NOT_YET,
        })),
        _ => None,
    }
}

/// A blank part by its word.
pub fn shape(word: &str) -> Option<PartShape> {
    let round = |inner_m| PartShape::Annulus {
        mass_kg: NOT_YET,
        outer_m: NOT_YET,
        inner_m,
    };
    match word {
        "disc" => Some(round(0.0)),
        "annulus" => Some(round(NOT_YET)),
        "ring" => Some(PartShape::Ring {
            mass_kg: NOT_YET,
            radius_m: NOT_YET,
        }),
        "known" => Some(PartShape::Known {
            inertia_kgm2: NOT_YET,
        }),
        _ => None,
    }
}

/// A blank project.
pub fn project(outfit: &Outfit) -> Project {
    let travel = KnobTravel {
        low: NOT_YET,
        high: NOT_YET,
        step: NOT_YET,
        repeat: NOT_YET,
    };
    let knob = |there: bool| there.then_some(travel);
    let [slide, tilt, reach] = outfit.knobs;
    let spot = Spot {
        name: String::new(),
        distance_m: NOT_YET,
        offset_m: NOT_YET,
        heading_rad: NOT_YET,
    };
    let part = TurningPart {
        shape: PartShape::Known {
            inertia_kgm2: NOT_YET,
        },
        count: 1,
        speed_ratio: NOT_YET,
        material: None,
    };
    Project {
        name: String::new(),
        units: UnitSystem::Metric,
        site: Site {
            temperature_k: NOT_YET,
            pressure_pa: standard_atmosphere(0.0).pressure_pa,
            humidity_frac: NOT_YET,
            wind_along_mps: NOT_YET,
            wind_across_mps: NOT_YET,
        },
        piece: piece(),
        target: target(),
        spots: vec![spot; outfit.spots],
        // Without its table the robot stands.
        moving: Moving::default(),
        limits: Limits {
            clearance_m: NOT_YET,
            speed_reserve_frac: NOT_YET,
            volley_count: 1,
            ..Limits::default()
        },
        machine: Machine {
            layout: guide(),
            wheel: Wheel {
                diameter_m: NOT_YET,
                width_m: NOT_YET,
                count: 1,
                gap_m: NOT_YET,
                friction_coeff: NOT_YET,
                rim_limit_mps: f64::INFINITY,
            },
            axle_height_m: NOT_YET,
            feed_speed_mps: NOT_YET,
            feed_push_n: NOT_YET,
            rolling_coeff: NOT_YET,
            speed_transfer_ratio: NOT_YET,
            exit_offset_rad: NOT_YET,
            aim_offset_rad: NOT_YET,
            guide_error: GuideError::None,
            sheet: outfit.sheet.then_some(GuideSheet {
                material: SheetMaterial::Polycarbonate,
                thickness_m: NOT_YET,
            }),
            setting: Setting {
                slide_m: 0.0,
                tilt_rad: 0.0,
                reach_m: 0.0,
            },
            knobs: Knobs {
                slide: knob(slide),
                tilt: knob(tilt),
                reach: knob(reach),
            },
            parts: vec![part; outfit.parts],
            drive: drive(),
            battery: Battery {
                open_v: NOT_YET,
                resistance_ohm: NOT_YET,
                brown_out_v: NOT_YET,
            },
            controller: controller(),
            length_m: None,
            width_m: None,
            height_m: None,
            mass_kg: None,
            other_motor_count: None,
            other_current_a: NOT_YET,
        },
        order: ColourOrder::default(),
        feed: outfit.feed.then(|| feed(outfit.feed_parts, outfit.plates)),
        cut: Cut {
            material: String::new(),
            thickness_m: NOT_YET,
            kerf_m: NOT_YET,
            hole_diameter_m: NOT_YET,
            hole_pitch_m: NOT_YET,
            axle_hole_m: None,
            margin_m: NOT_YET,
            side_play_m: NOT_YET,
        },
        throws: ThrowSpread {
            stiffness_frac: NOT_YET,
            friction_frac: NOT_YET,
            drag_frac: NOT_YET,
            feed_speed_frac: NOT_YET,
            entry_m: NOT_YET,
            entry_angle_rad: NOT_YET,
            battery_v: NOT_YET,
            timing_s: NOT_YET,
            shown: None,
            matched: None,
        },
        frame: outfit.rest.frame(),
        season: outfit.rest.season(),
        spreads: BTreeMap::new(),
        known: None,
        free: Vec::new(),
    }
}

fn feed([roller, stirrer, bands]: [bool; 3], plates: usize) -> Feed {
    Feed {
        piece_count: 1,
        hopper: Hopper {
            length_m: NOT_YET,
            width_m: NOT_YET,
            chute_width_m: NOT_YET,
            slope_rad: NOT_YET,
            side_slope_rad: NOT_YET,
            bend_rad: NOT_YET,
            plates: Plates::blank(plates),
            wall_m: NOT_YET,
            funnel_rad: NOT_YET,
            fillet_m: NOT_YET,
            chute_m: NOT_YET,
            rail_gap_m: NOT_YET,
            friction_coeff: NOT_YET,
            piece_friction_coeff: NOT_YET,
            rolling_coeff: NOT_YET,
            loading: Loading {
                arrival: Arrival::Dropped,
                intake_mps: NOT_YET,
                aside_m: NOT_YET,
                before_mouth_m: NOT_YET,
                spread_m: NOT_YET,
                height_m: NOT_YET,
                every_s: NOT_YET,
            },
            roller: roller.then_some(RollerSpec {
                diameter_m: NOT_YET,
                width_m: NOT_YET,
                rim_mps: NOT_YET,
                squeeze_m: NOT_YET,
                torque_nm: NOT_YET,
                friction_coeff: NOT_YET,
                paddle_count: 0,
                paddle_m: NOT_YET,
            }),
            stirrer: stirrer.then_some(StirrerSpec {
                length_m: NOT_YET,
                before_mouth_m: NOT_YET,
                offset_m: NOT_YET,
                height_m: NOT_YET,
                thickness_m: NOT_YET,
                speed_radps: NOT_YET,
                torque_nm: NOT_YET,
                reverses: false,
                swing_rad: NOT_YET,
                middle_rad: NOT_YET,
            }),
            bands: bands.then_some(BandSpec {
                tension_n: NOT_YET,
                stiffness_npm: NOT_YET,
                reach_m: NOT_YET,
                height_m: NOT_YET,
            }),
        },
    }
}

fn piece() -> Piece {
    Piece {
        kind: PieceKind::Foam,
        diameter_m: NOT_YET,
        mass_kg: NOT_YET,
        inertia_coeff: NOT_YET,
        stiffness_npm: NOT_YET,
        stiffness_exponent: NOT_YET,
        bounce_coeff: NOT_YET,
        holes: Some(Holes {
            count: 0,
            diameter_m: NOT_YET,
        }),
        seam: None,
        drag: Drag {
            law: DragLaw::Constant { drag_coeff: NOT_YET },
            scale_ratio: 1.0,
        },
        lift: Lift::Saturating {
            a_coeff: LIFT_A,
            b_coeff: LIFT_B,
            scale_ratio: NOT_YET,
        },
        spin_decay: SpinDecay::Aero {
            torque_coeff: NOT_YET,
        },
        carried_air: true,
    }
}

fn target() -> Target {
    Target {
        outline: Outline::Rectangle,
        rim_height_m: NOT_YET,
        width_m: NOT_YET,
        depth_m: NOT_YET,
        tilt_rad: NOT_YET,
        back_wall_m: NOT_YET,
        side_wall_m: NOT_YET,
        wall_bounce_coeff: NOT_YET,
        ceiling_m: f64::INFINITY,
    }
}

fn drive() -> Drive {
    Drive {
        motor: MotorSheet {
            nominal_v: NOT_YET,
            free_radps: NOT_YET,
            free_a: NOT_YET,
            stall_nm: NOT_YET,
            stall_a: NOT_YET,
            rotor_kgm2: NOT_YET,
        },
        motor_count: 1,
        gear_ratio: NOT_YET,
        gear_efficiency_frac: NOT_YET,
        limit_a: f64::INFINITY,
    }
}

fn controller() -> Controller {
    Controller {
        period_s: NOT_YET,
        delay_s: NOT_YET,
        average_count: 1,
        feed_forward_ratio: NOT_YET,
        kp_vs: NOT_YET,
        ki_v: NOT_YET,
        brakes: false,
        ready_frac: NOT_YET,
    }
}
