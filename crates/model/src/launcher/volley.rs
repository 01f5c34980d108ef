//! Spin-up and a volley: the wheel train under its discrete speed loop, dip by dip.
//!
//! The contact is a callback: this module knows nothing of pieces and guides.

use super::train::{Plant, TrainEnergy, WheelTrain};
use super::types::{Battery, Controller, TorqueLine, VolleySample};
use super::wheel_run::Run;

/// Physical: longest average of the speed that is simulated, in samples; past a few the loop is useless.
pub(super) const MAX_AVERAGE: usize = 256;
/// Physical: longest delay that is simulated, in periods.
pub(super) const MAX_DELAY: usize = 64;
/// Method: loop turns one volley may take; a tenth of a second of computing.
const MAX_TURNS: f64 = 400_000.0;
/// Physical: throws in one volley.
const MAX_THROWS: u32 = 1000;
/// Physical: no contact lasts a second; a longer one is a piece that got stuck.
pub(super) const LONGEST_CONTACT_S: f64 = 1.0;
/// Physical: no wheel of this kind turns at ten million rpm.
pub(super) const FASTEST_RADPS: f64 = 1e6;

/// When the next piece is let in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trigger {
    /// First when ready, then at the interval, ready or not.
    Interval,
    /// As soon as the measured speed is in the ready band, but not before the interval is over.
    WhenReady,
}

/// A volley to simulate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VolleyPlan {
    /// Wheel speed asked for.
    pub setpoint_radps: f64,
    /// Wheel speed at the start.
    pub start_radps: f64,
    /// Pieces to throw; 0 simulates the spin-up only.
    pub throw_count: u32,
    /// Time between two releases, at least.
    pub interval_s: f64,
    /// When the next piece is let in.
    pub trigger: Trigger,
    /// No piece before this time.
    pub earliest_s: f64,
    /// Longest wait for the first ready from `earliest_s` on, and longest wait for the wheel to come back
    /// after a throw.
    pub patience_s: f64,
    /// Current the rest of the machine draws from the same battery meanwhile.
    pub other_current_a: f64,
    /// Counts per wheel turn of the speed sensor; 0 for a perfect one.
    pub counts_per_turn: u32,
    /// Record samples for a picture.
    pub with_samples: bool,
}

/// A piece about to touch the wheel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ThrowRequest {
    /// Which piece, from 0.
    pub index: u32,
    /// Wheel speed.
    pub wheel_radps: f64,
    /// Torque at one wheel during the contact, at the duty it began with.
    pub torque: TorqueLine,
    /// Time since spin-up began.
    pub time_s: f64,
    /// Battery voltage.
    pub battery_v: f64,
}

/// What the contact did to the wheel. A speed that is not a number says that the piece was refused.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ThrowResult {
    /// Wheel speed after.
    pub wheel_after_radps: f64,
    /// From first to last touch.
    pub duration_s: f64,
}

/// One throw of a volley.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Throw {
    /// Which piece, from 0.
    pub index: u32,
    /// When it was let in.
    pub time_s: f64,
    /// Wheel speed then.
    pub before_radps: f64,
    /// Speed error then, over the setpoint; positive when too fast.
    pub error_frac: f64,
    /// Wheel speed after the contact.
    pub after_radps: f64,
    /// Loss of speed over the speed before.
    pub dip_frac: f64,
    /// Length of the contact.
    pub contact_s: f64,
    /// From the end of the contact until the wheel first is within the ready band; `None` if it was not
    /// before
    /// the next throw or the end.
    pub recovery_s: Option<f64>,
    /// Speed error at the next throw; `None` for the last.
    pub next_error_frac: Option<f64>,
    /// The piece did not come through.
    pub refused: bool,
}

/// Why the wheel is not in the ready band.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NotReady {
    /// Full duty does not reach the band.
    TooSlow {
        /// Speed approached at full duty.
        top_radps: f64,
    },
    /// The loop came to rest outside the band: too little feed-forward or gain, no integral.
    SettlesOff {
        /// Where it stays.
        speed_radps: f64,
    },
    /// The loop swings through the band: gain too high for its delay.
    Swings {
        /// Lowest speed of late.
        low_radps: f64,
        /// Highest speed of late.
        high_radps: f64,
    },
    /// The wheel is in the band but the sensor's counts are too coarse to show it.
    SensorTooCoarse {
        /// Where the wheel stays.
        speed_radps: f64,
    },
    /// Still on its way when patience ran out.
    OutOfTime {
        /// Speed then.
        speed_radps: f64,
    },
}

/// How the simulation ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum VolleyEnd {
    /// All pieces were let in.
    Complete,
    /// The wheel was not ready for this piece.
    NotReady {
        /// Which piece waited in vain, from 0.
        index: u32,
        /// Why.
        why: NotReady,
    },
    /// Nothing was simulated: what is wrong, in plain words.
    Unusable(&'static str),
}

/// Result of a volley.
#[derive(Clone, Debug, PartialEq)]
pub struct Volley {
    /// How it ended.
    pub end: VolleyEnd,
    /// When the wheel first is within the ready band; `None` if never.
    pub spin_up_s: Option<f64>,
    /// Speed approached at full duty with sag.
    pub top_radps: f64,
    /// Highest wheel speed met.
    pub peak_radps: f64,
    /// Greatest current drawn from the battery, the rest of the machine included.
    pub peak_battery_a: f64,
    /// Lowest voltage at the battery terminals.
    pub lowest_battery_v: f64,
    /// It falls below the brown-out voltage: electronics reset.
    pub browns_out: bool,
    /// Time simulated.
    pub time_s: f64,
    /// Wheel speed at the end.
    pub end_radps: f64,
    /// Energy outside the contacts.
    pub energy: TrainEnergy,
    /// Kinetic energy that the throws took from all wheels, contact-time motor work included.
    pub thrown_j: f64,
    /// The throws.
    pub throws: Vec<Throw>,
    /// Samples; empty unless asked for.
    pub samples: Vec<VolleySample>,
}

impl Default for Volley {
    fn default() -> Self {
        Volley {
            end: VolleyEnd::Unusable("nothing has been simulated yet"),
            spin_up_s: None,
            top_radps: 0.0,
            peak_radps: 0.0,
            peak_battery_a: 0.0,
            lowest_battery_v: f64::INFINITY,
            browns_out: false,
            time_s: 0.0,
            end_radps: 0.0,
            energy: TrainEnergy::default(),
            thrown_j: 0.0,
            throws: Vec::new(),
            samples: Vec::new(),
        }
    }
}

/// Simulates spin-up and volley. See [`volley_into`].
pub fn volley(
    train: &WheelTrain,
    battery: &Battery,
    controller: &Controller,
    plan: &VolleyPlan,
    throw: impl FnMut(ThrowRequest) -> ThrowResult,
) -> Volley {
    let mut out = Volley::default();
    volley_into(train, battery, controller, plan, throw, &mut out);
    out
}

/// Simulates spin-up and volley into a result that is reused: no allocation once it is large enough.
///
/// The loop, once per period: speed = turn over the last N periods, divided by their time;
///
/// ```text
/// V = ff (R I0 + kE G ω_set) + Kp e + ∫Ki e dt    D = V/V_b, clamped to −1..1 (0..1 without braking)
/// ```
///
/// with V_b the measured battery voltage. The duty acts after the delay and is held. The integral stands
/// still while the duty or the current limit saturates, unless the error leads back. Without braking the
/// circuit is open at zero duty; at any other duty the chopper passes current both ways. Between changes of
/// duty the train moves by closed solutions, so no step size enters.
///
/// During a contact the duty stays as it was at its beginning and the loop's own measurements see the
/// wheel fall in a straight line; the electrical energy of the contact is not counted.
///
/// Discrete control as in \[franklin-digital\]; the integral rule is conditional integration
/// \[astrom-hagglund\]. Inputs that make no sense give [`VolleyEnd::Unusable`].
pub fn volley_into(
    train: &WheelTrain,
    battery: &Battery,
    controller: &Controller,
    plan: &VolleyPlan,
    mut throw: impl FnMut(ThrowRequest) -> ThrowResult,
    out: &mut Volley,
) {
    let (throws, samples) = (std::mem::take(&mut out.throws), std::mem::take(&mut out.samples));
    *out = Volley {
        throws,
        samples,
        ..Volley::default()
    };
    out.throws.clear();
    out.samples.clear();
    let loaded = Battery {
        open_v: battery.open_v - battery.resistance_ohm * plan.other_current_a,
        ..*battery
    };
    let plant = Plant::new(train, &loaded, controller.brakes);
    if let Some(why) = plant.refusal().or_else(|| plan_refusal(controller, plan)) {
        out.end = VolleyEnd::Unusable(why);
        return;
    }
    out.top_radps = plant.top_speed();
    let mut run = Run::new(plant, controller, plan, out);
    run.play(&mut throw);
    run.finish(battery);
}

/// False where either is not a number.
pub(super) fn within(value: f64, limit: f64) -> bool {
    value <= limit
}

fn plan_refusal(controller: &Controller, plan: &VolleyPlan) -> Option<&'static str> {
    let positive = |x: f64| x.is_finite() && x > 0.0;
    let not_negative = |x: f64| x.is_finite() && x >= 0.0;
    if !(positive(plan.setpoint_radps) && plan.setpoint_radps <= FASTEST_RADPS) {
        return Some("the setpoint must be above 0 and below a million rad/s");
    }
    if !within(plan.start_radps.abs(), FASTEST_RADPS) {
        return Some("the starting speed must be a number below a million rad/s");
    }
    if !positive(controller.period_s) {
        return Some("the loop's period must be above 0");
    }
    if !(not_negative(controller.delay_s)
        && controller.delay_s / controller.period_s < (MAX_DELAY - 2) as f64)
    {
        return Some("the loop's delay must be 0 or more and shorter than 62 periods");
    }
    if controller.average_count == 0 || controller.average_count as usize > MAX_AVERAGE {
        return Some("the average must be over 1 to 256 samples");
    }
    let gains = [controller.feed_forward_ratio, controller.kp_vs, controller.ki_v];
    if !gains.iter().all(|gain| not_negative(*gain)) {
        return Some("feed-forward and gains must be numbers, 0 or more");
    }
    if !(positive(controller.ready_frac) && controller.ready_frac < 1.0) {
        return Some("the ready band must be above 0 and below 100 %");
    }
    let waits = [plan.interval_s, plan.earliest_s, plan.patience_s];
    if !waits.iter().all(|wait| not_negative(*wait)) {
        return Some("interval, earliest throw and patience must be numbers, 0 or more");
    }
    if !not_negative(plan.other_current_a) {
        return Some("the current of the rest of the machine must be a number, 0 or more");
    }
    if plan.throw_count > MAX_THROWS {
        return Some("a volley of more than 1000 pieces is not simulated");
    }
    let each_s = plan.interval_s + plan.patience_s + LONGEST_CONTACT_S;
    let longest_s = plan.earliest_s + plan.patience_s + f64::from(plan.throw_count) * each_s;
    if !within(longest_s / controller.period_s, MAX_TURNS) {
        return Some("the loop's period is too short for so long a volley: more than 400 000 turns");
    }
    None
}
