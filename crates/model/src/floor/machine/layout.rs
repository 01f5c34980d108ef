//! Which parameters a log can speak about, and what is believed of them before.

use std::collections::BTreeSet;

use super::prior::Before;
use crate::floor::fit::Prior;
use crate::floor::forward::Share;
use crate::floor::shot::Shot;

/// Inputs of one shot: deviations from the project as written.
pub(super) mod input {
    /// Of ln exit speed.
    pub(crate) const SPEED: usize = 0;
    /// Of the elevation at the exit.
    pub(crate) const ANGLE: usize = 1;
    /// Of the direction, left positive.
    pub(crate) const ASIDE: usize = 2;
    /// Of ln drag.
    pub(crate) const DRAG: usize = 3;
    /// Of the share of lift.
    pub(crate) const LIFT: usize = 4;
    /// Of ln scatter of speed.
    pub(crate) const SPEED_SD: usize = 5;
    /// Of ln scatter of the elevation.
    pub(crate) const ANGLE_SD: usize = 6;
    /// Of ln scatter of the direction.
    pub(crate) const ASIDE_SD: usize = 7;
    /// Of ln of what a throw costs the wheel.
    pub(crate) const DIP: usize = 8;
    /// How many.
    pub(crate) const COUNT: usize = 9;
}

/// What a parameter stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Effect {
    /// ln of exit speed over that computed.
    Speed,
    /// How much steeper than computed it leaves.
    Angle,
    /// How far to the left of straight ahead it throws.
    Aside,
    /// ln of drag over that written.
    Drag,
    /// Lift over that written, less one.
    Lift,
    /// ln of the scatter of speed over that assumed.
    SpeedScatter,
    /// ln of the scatter of the exit angle over that assumed.
    AngleScatter,
    /// ln of the scatter of direction over that assumed.
    AsideScatter,
    /// ln of what a throw costs the wheel, over that computed.
    Dip,
    /// ln speed by place in the volley, where the wheel was not measured before the throw.
    Place,
    /// ln speed of the last of a volley, where the wheel was not measured.
    Last,
    /// ln speed by place in the volley beyond what the wheel's measured speed explains.
    PlaceBeyondWheel,
    /// ln speed of the last of a volley beyond what the wheel's measured speed explains.
    LastBeyondWheel,
    /// ln speed by battery voltage, per volt.
    Battery,
    /// ln speed of one marked piece.
    Piece(u32),
    /// ln speed of one session.
    SessionSpeed(usize),
    /// Exit angle of one session.
    SessionAngle(usize),
}

/// The parameters of a log, in order.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Parameters {
    pub(super) effects: Vec<Effect>,
    pub(super) prior: Prior,
    /// Voltage at which the battery has no effect.
    pub(super) reference_v: f64,
}

impl Parameters {
    /// Those that some shot can tell anything about.
    pub(super) fn of(shots: &[&Shot], before: &Before, reference_v: f64) -> Parameters {
        let mut effects = Vec::new();
        let mut prior = Prior::default();
        let mut add = |effect: Effect, sd: f64| {
            // A spread of zero means known exactly: no parameter.
            if sd > 0.0 && sd.is_finite() {
                effects.push(effect);
                prior.mean.push(0.0);
                prior.sd.push(sd);
            }
        };
        add(Effect::Speed, before.ln_speed_sd_frac);
        add(Effect::Angle, before.angle_sd_rad);
        add(Effect::Aside, before.aside_sd_rad);
        add(Effect::Drag, before.ln_drag_sd_frac);
        add(Effect::Lift, before.lift_sd_frac);
        add(Effect::SpeedScatter, before.ln_scatter_sd_frac);
        add(Effect::AngleScatter, before.ln_scatter_sd_frac);
        add(Effect::AsideScatter, before.ln_scatter_sd_frac);
        if shots
            .iter()
            .any(|s| s.before_radps.is_some() && s.after_radps.is_some())
        {
            add(Effect::Dip, before.ln_dip_sd_frac);
        }
        for (measured, place, last) in [
            (false, Effect::Place, Effect::Last),
            (true, Effect::PlaceBeyondWheel, Effect::LastBeyondWheel),
        ] {
            let here = || shots.iter().filter(move |s| s.before_radps.is_some() == measured);
            if here().any(|s| s.place > 0) {
                add(place, before.place_sd_frac);
            }
            if here().any(|s| s.last && s.place > 0) {
                add(last, before.last_sd_frac);
            }
        }
        if shots.iter().any(|s| s.battery_v.is_some_and(f64::is_finite)) {
            add(Effect::Battery, before.battery_sd_frac);
        }
        let pieces: BTreeSet<u32> = shots.iter().filter_map(|s| s.piece).collect();
        if pieces.len() > 1 {
            pieces
                .iter()
                .for_each(|p| add(Effect::Piece(*p), before.piece_sd_frac));
        }
        let sessions: BTreeSet<usize> = shots.iter().map(|s| s.session_index).collect();
        if sessions.len() > 1 {
            for s in &sessions {
                add(Effect::SessionSpeed(*s), before.session_sd_frac);
                add(Effect::SessionAngle(*s), before.session_angle_sd_rad);
            }
        }
        Parameters {
            effects,
            prior,
            reference_v,
        }
    }

    /// Index of an effect.
    pub(super) fn index(&self, effect: Effect) -> Option<usize> {
        self.effects.iter().position(|e| *e == effect)
    }

    /// How the inputs of a shot are made.
    pub(super) fn design(&self, shot: &Shot) -> Vec<Share> {
        let each = self.effects.iter().enumerate();
        each.filter_map(|(parameter, effect)| {
            let (input, share_coeff) = share(*effect, shot, self.reference_v)?;
            Some(Share {
                input,
                parameter,
                share_coeff,
            })
        })
        .collect()
    }
}

/// Which input of a shot an effect moves, and by how much per unit.
fn share(effect: Effect, shot: &Shot, reference_v: f64) -> Option<(usize, f64)> {
    let measured = shot.before_radps.is_some();
    let place = f64::from(shot.place);
    let speed = |coeff: f64| (coeff != 0.0).then_some((input::SPEED, coeff));
    let when = |yes: bool| if yes { 1.0 } else { 0.0 };
    let last = when(shot.last && shot.place > 0);
    match effect {
        Effect::Speed => Some((input::SPEED, 1.0)),
        Effect::Angle => Some((input::ANGLE, 1.0)),
        Effect::Aside => Some((input::ASIDE, 1.0)),
        Effect::Drag => Some((input::DRAG, 1.0)),
        Effect::Lift => Some((input::LIFT, 1.0)),
        Effect::SpeedScatter => Some((input::SPEED_SD, 1.0)),
        Effect::AngleScatter => Some((input::ANGLE_SD, 1.0)),
        Effect::AsideScatter => Some((input::ASIDE_SD, 1.0)),
        Effect::Dip => Some((input::DIP, 1.0)),
        Effect::Place => speed(place * when(!measured)),
        Effect::Last => speed(last * when(!measured)),
        Effect::PlaceBeyondWheel => speed(place * when(measured)),
        Effect::LastBeyondWheel => speed(last * when(measured)),
        Effect::Battery => speed(
            shot.battery_v
                .filter(|v| v.is_finite())
                .map_or(0.0, |v| v - reference_v),
        ),
        Effect::Piece(p) => speed(when(shot.piece == Some(p))),
        Effect::SessionSpeed(s) => speed(when(shot.session_index == s)),
        Effect::SessionAngle(s) => (shot.session_index == s).then_some((input::ANGLE, 1.0)),
    }
}

impl Effect {
    /// Short name, for files.
    pub fn name(self) -> String {
        match self {
            Effect::Speed => "speed_transfer".into(),
            Effect::Angle => "exit_offset".into(),
            Effect::Aside => "aim_offset".into(),
            Effect::Drag => "drag".into(),
            Effect::Lift => "lift".into(),
            Effect::SpeedScatter => "speed_scatter".into(),
            Effect::AngleScatter => "angle_scatter".into(),
            Effect::AsideScatter => "direction_scatter".into(),
            Effect::Dip => "dip".into(),
            Effect::Place => "place_in_volley".into(),
            Effect::Last => "last_of_volley".into(),
            Effect::PlaceBeyondWheel => "place_beyond_wheel".into(),
            Effect::LastBeyondWheel => "last_beyond_wheel".into(),
            Effect::Battery => "battery".into(),
            Effect::Piece(p) => format!("piece_{p}"),
            Effect::SessionSpeed(s) => format!("session_{}_speed", s + 1),
            Effect::SessionAngle(s) => format!("session_{}_angle", s + 1),
        }
    }

    /// What it is, in plain words.
    pub fn words(self) -> String {
        match self {
            Effect::Speed => "exit speed over that computed".into(),
            Effect::Angle => "how much steeper than computed it leaves".into(),
            Effect::Aside => "how far to the left of straight ahead it throws".into(),
            Effect::Drag => "drag of the piece".into(),
            Effect::Lift => "lift from backspin".into(),
            Effect::SpeedScatter => "scatter of the exit speed from throw to throw".into(),
            Effect::AngleScatter => "scatter of the exit angle from throw to throw".into(),
            Effect::AsideScatter => "scatter of the direction from throw to throw".into(),
            Effect::Dip => "what a throw costs the wheel, over that computed".into(),
            Effect::Place => "change of speed from one throw of a volley to the next".into(),
            Effect::Last => "change of speed of the last throw of a volley".into(),
            Effect::PlaceBeyondWheel => {
                "change of speed from one throw of a volley to the next that the wheel's speed does not explain".into()
            }
            Effect::LastBeyondWheel => {
                "change of speed of the last throw of a volley that the wheel's speed does not explain".into()
            }
            Effect::Battery => "change of speed for each volt of the battery".into(),
            Effect::Piece(p) => format!("how much faster piece {p} leaves than the others"),
            Effect::SessionSpeed(s) => format!("how much faster everything left in session {}", s + 1),
            Effect::SessionAngle(s) => format!("how much steeper everything left in session {}", s + 1),
        }
    }
}
